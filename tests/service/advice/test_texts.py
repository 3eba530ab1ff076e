import re
from string import Formatter

import msgspec
import pytest

from feedproof.advice import texts
from feedproof.advice.texts import basis_words, caution_texts, in_language, offered_languages, safety_texts

#: The usual cautions of the trade, by the code that gives each.
WANTED = {
    "licensed_work",
    "prove_the_tester",
    "live_contacts",
    "neutral_as_live",
    "frame_as_live",
    "service_neutral",
    "heat_at_joint",
    "heat_at_joint_urgent",
    "grounded_frames_off_earth",
    "feeder_neutral",
    "frame_unprotected",
    "current_on_ground",
    "false_ground",
    "tripped_breaker",
    "silent_proximity_detector",
    "resistance_isolated_only",
    "never_substitute_neutral",
}


def every_text() -> list[tuple[str, str]]:
    data = safety_texts()
    found = [
        (f"{caution.code}.text", text)
        for caution in data.cautions
        for form in caution.forms
        for text in form.text.values()
    ]
    found += [
        (f"{caution.code}.{reason}", text)
        for caution in data.cautions
        for reason, texts in (("because", caution.because), *caution.because_for.items())
        for text in texts.values()
    ]
    found += [(hazard.code, text) for hazard in data.reading_hazards for text in hazard.text.values()]
    return found


def test_all_usual_cautions_are_there() -> None:
    assert {caution.code for caution in caution_texts()} >= WANTED


def test_each_caution_has_its_ground() -> None:
    for caution in caution_texts():
        assert caution.basis, caution.code
        for entry in caution.basis:
            if entry.status == "practice":
                assert re.search(r"common practice, no source|this service's own", entry.source, re.IGNORECASE)
            else:
                assert "common practice" not in entry.source.lower()


def test_how_well_a_source_is_known_stands_in_the_catalogue_and_not_beside_the_appliance() -> None:
    for caution in caution_texts():
        assert not re.search(r"secondary|memory|computed here|\(read", basis_words(caution))
        assert all(entry.source in basis_words(caution) for entry in caution.basis)


def test_proving_the_tester_claims_no_more_than_its_sources() -> None:
    # 29 CFR 1910.333(b)(2)(iv) makes the check before and after compulsory above 600 V nominal only; NFPA 70E
    # 120.5 asks for it at all voltages (both read in secondary copies).
    words = next(basis_words(caution) for caution in caution_texts() if caution.code == "prove_the_tester")
    assert "above 600 V nominal, so not by this rule at 240 V" in words
    assert "at every voltage" in words


def test_heat_names_no_single_hazardous_wattage() -> None:
    for code in ("heat_at_joint", "heat_at_joint_urgent"):
        text = next(caution.text["en"] for caution in caution_texts() if caution.code == code)
        assert "no source gives one wattage" in text.lower()


def test_texts_are_plain_whole_sentences_and_call_nothing_safe() -> None:
    for name, text in every_text():
        assert not re.search(r"\bsafe(ly|ty)?\b", text, re.IGNORECASE), name
        assert text[0].isupper(), name
        assert text.endswith("."), name
        assert "  " not in text, name
        assert len(text) <= 420, name
        assert max(len(part.split()) for part in re.split(r"[.:;] ", text)) <= 40, name
        assert {field for _, field, _, _ in Formatter().parse(text) if field} <= {"probability", "called", "read"}, name


def test_titles_are_one_short_line_without_a_full_stop() -> None:
    for title in (title for c in caution_texts() for form in c.forms for title in form.title.values()):
        assert len(title.split()) <= 16, title
        assert len(title) <= 90, title
        assert title[0].isupper(), title
        assert not title.endswith("."), title
        assert "safe" not in title.lower(), title


@pytest.mark.parametrize("caution", [c for c in caution_texts() if c.possible], ids=lambda caution: caution.code)
def test_an_if_names_what_a_person_can_see_or_read_never_the_hidden_fault(caution: texts.CautionText) -> None:
    assert caution.possible is not None
    seen = r"brighten|tingle|smell|hot|reads|has three wires|tripped|strap|clamp"
    for words in (*caution.possible.title.values(), *caution.possible.text.values()):
        condition = words.partition(":")[0]
        assert condition.startswith("If ")
        assert re.search(seen, condition)
        assert not re.search(r"neutral is (bad|open)|is open|high resistance|fault", condition)


def test_every_hazard_of_a_case_has_a_form_for_where_it_is_only_possible() -> None:
    assert all(caution.possible is not None for caution in caution_texts() if caution.about == "hazard")


def test_gloves_eye_protection_and_category_have_their_sources() -> None:
    live = next(caution for caution in caution_texts() if caution.code == "live_contacts")
    assert "CAT III, 300 V or more" in live.text["en"]
    assert "1910.335" in basis_words(live)
    assert "1910.137" in basis_words(live)


def test_stored_energy_is_released_before_resistance_is_measured() -> None:
    text = next(caution for caution in caution_texts() if caution.code == "resistance_isolated_only").text["en"]
    assert "stored energy released" in text


def test_english_is_whole_and_stands_in_for_what_is_missing() -> None:
    assert offered_languages()[0] == "en"
    group = {"en": "Stop.", "xx": "Pots."}
    assert in_language(group, "xx") == "Pots."
    assert in_language(group, "xx-YY") == "Pots."
    assert in_language(group, "EN-us") == "Stop."
    assert in_language(group, "zz") == "Stop."


def broken(**changes: object) -> texts.SafetyTexts:
    data = safety_texts()
    first = msgspec.structs.replace(data.cautions[0], **changes)
    return msgspec.structs.replace(data, cautions=(first, *data.cautions[1:]))


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"basis": ()}, "no basis"),
        ({"basis": (texts.Basis(source=" ", status="read"),)}, "no basis"),
        ({"text": {}}, "lacks its en text"),
        ({"because": {"en": " "}}, "lacks its en text"),
        ({"superseded_by": ("nothing",)}, "superseded by none"),
        ({"code": "prove_the_tester"}, "twice"),
        ({"because": {"en": "At {probability}.", "qaa": "At {percentage}."}}, "other figures in qaa"),
    ],
)
def test_a_broken_data_file_stops_the_service(changes: dict[str, object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        texts.checked(broken(**changes))


def test_a_reading_hazard_without_text_stops_the_service() -> None:
    data = safety_texts()
    empty = msgspec.structs.replace(data, reading_hazards=(texts.ReadingHazard(code="new", text={}),))
    with pytest.raises(ValueError, match="lacks its en text"):
        texts.checked(empty)
