"""The safety texts: loaded from one data file, checked on loading, looked up by language."""

import tomllib
from functools import cache
from importlib.resources import files
from string import Formatter
from typing import Literal

import msgspec
from msgspec import Struct

from feedproof.contract.assessment import Severity

#: Language of the original texts, used where a translation is missing.
FALLBACK_LANGUAGE = "en"

Status = Literal["read", "secondary", "memory", "computed", "practice"]
Texts = dict[str, str]
Reason = Literal["always", "probability", "shown", "proven", "unproven", "bonded", "unknown", "upstream"]
"""What sets a caution off: it belongs to all work; its hazard's probability; a reading that shows it, whatever that is;
readings that show nothing, with testers proven or not; the frame's bond, or that it is not known; doubt in a neutral
upstream, whatever is read."""


class Basis(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where a caution comes from."""

    source: str
    status: Status
    """How well the source is known; `practice`: there is none, and `source` says so itself."""


class Form(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A caution's words in one form."""

    title: Texts
    text: Texts


class CautionText(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One caution of the catalogue, in every language that it has."""

    code: str
    severity: Severity
    """Where the hazard is likely or shown."""
    about: Literal["hazard", "practice"]
    """A hazard of this case, or the practice of the work."""
    trigger: str
    """Rule that gives it."""
    basis: tuple[Basis, ...]
    title: Texts
    text: Texts
    possible: Form | None = None
    """Where the hazard is only possible: the "if" names what a person can see or read."""
    meanwhile: Form | None = None
    """Where a further reading is named, and the hazard would end the readings."""
    shown: Form | None = None
    """Where a reading shows it, with {read} for that reading."""
    because: Texts
    because_for: dict[Reason, Texts] = {}
    """The same where another reason than a probability has set it off."""
    superseded_by: tuple[str, ...] = ()
    """Cautions that say the same and more: where both apply, only they are given."""
    possible_superseded_by: tuple[str, ...] = ()
    """Cautions that say the same as `possible`."""

    @property
    def forms(self) -> tuple[Form, ...]:
        """Its words in every form that it has, the plain one first."""
        conditional = tuple(form for form in (self.possible, self.meanwhile, self.shown) if form is not None)
        return (Form(title=self.title, text=self.text), *conditional)

    @property
    def groups(self) -> tuple[Texts, ...]:
        """All its texts."""
        written = (texts for form in self.forms for texts in (form.title, form.text))
        return (*written, self.because, *self.because_for.values())


class ReadingHazard(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One hazard that taking a reading can have."""

    code: str
    text: Texts


class SafetyTexts(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The whole data file."""

    called: dict[Literal["utility", "generator"], Texts]
    """Whom a text calls, by what feeds the building."""
    cautions: tuple[CautionText, ...]
    reading_hazards: tuple[ReadingHazard, ...]


@cache
def safety_texts() -> SafetyTexts:
    """All safety texts of the package.

    Raises
    ------
    ValueError
        If the data file lacks a text, a basis or a code, or calls something by the wrong name. A service with
        broken cautions must not start.
    """
    raw = files("feedproof.advice").joinpath("data/cautions.toml").read_text(encoding="utf-8")
    return checked(msgspec.convert(tomllib.loads(raw), SafetyTexts))


def caution_texts() -> tuple[CautionText, ...]:
    """The catalogue of cautions, in the order in which equals are given."""
    return safety_texts().cautions


def in_language(texts: Texts, language: str) -> str:
    """The text in the language asked for, in its base language, or in English.

    Parameters
    ----------
    texts : dict of str
        By BCP 47 tag in lower case.
    language : str
        A BCP 47 tag, for example "en-US".
    """
    tag = language.lower()
    return texts.get(tag) or texts.get(tag.partition("-")[0]) or texts[FALLBACK_LANGUAGE]


def called(source: str, language: str) -> str:
    """Whom a caution calls where the fault lies upstream: the utility; behind a generator there is none."""
    texts = safety_texts().called
    return in_language(texts["generator" if source == "generator" else "utility"], language)


def basis_words(caution: CautionText) -> str:
    """The caution's sources in one line; how well each is known stands in the catalogue."""
    return "; ".join(entry.source for entry in caution.basis)


def offered_languages() -> tuple[str, ...]:
    """Languages that have every safety text, and so can be asked for; English first."""
    texts = safety_texts()
    groups = [group for caution in texts.cautions for group in caution.groups]
    groups += [*texts.called.values(), *(hazard.text for hazard in texts.reading_hazards)]
    complete = set[str].intersection(*map(set, groups))
    return tuple(sorted(complete, key=lambda language: (language != FALLBACK_LANGUAGE, language)))


def _figures(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


def checked(texts: SafetyTexts) -> SafetyTexts:  # noqa: C901 (one list of questions, each a line or two)
    """The texts as they are, or a `ValueError` that says what they lack."""
    codes = [caution.code for caution in texts.cautions]
    hazards = [hazard.code for hazard in texts.reading_hazards]
    for names in (codes, hazards):
        if len(set(names)) != len(names):
            raise ValueError(f"a safety text is there twice: {names}")
    for caution in texts.cautions:
        if not caution.basis or not all(entry.source.strip() for entry in caution.basis):
            raise ValueError(f"caution {caution.code} has no basis")
        if not {*caution.superseded_by, *caution.possible_superseded_by} <= {*codes}:
            raise ValueError(f"caution {caution.code} is superseded by none that exists")
        for group in (*(texts for form in caution.forms for texts in (form.title, form.text)), caution.because):
            if not group.get(FALLBACK_LANGUAGE, "").strip():
                raise ValueError(f"caution {caution.code} lacks its {FALLBACK_LANGUAGE} text")
        for group in caution.groups:
            for language, text in group.items():
                if _figures(text) != _figures(group.get(FALLBACK_LANGUAGE, "")):
                    raise ValueError(f"caution {caution.code} states other figures in {language}")
    for hazard in texts.reading_hazards:
        if not hazard.text.get(FALLBACK_LANGUAGE, "").strip():
            raise ValueError(f"reading hazard {hazard.code} lacks its {FALLBACK_LANGUAGE} text")
    return texts
