"""Texts that try to be more than text, and an answer that carries one in every place a caller can write to."""

import msgspec

from feedproof.contract.assessment import AssessedVisit, Assessment, Assumption, VisitMeter
from support.assessments import everything
from support.outcomes import METERS, MODEL, STATES

#: What must never take effect, whatever it is wrapped in: if it shows up outside of plain text, something broke.
MARK = "zq9mark"

CORPUS = [
    f"<script>{MARK}()</script>",
    f"</title><script>{MARK}()</script>",
    f"</style><img src=x onerror={MARK}()>",
    f"</svg><script>{MARK}()</script>",
    f"</desc></svg><foreignObject><body onload={MARK}()>",
    f'"><svg onload={MARK}()>',
    f"' autofocus onfocus='{MARK}()' x='",
    f"<a href=javascript:{MARK}()>press</a>",
    f"<iframe srcdoc='&lt;script&gt;{MARK}()&lt;/script&gt;'>",
    f"<!--{MARK}--><![CDATA[{MARK}]]>",
    f"<?xml-stylesheet href='{MARK}.css'?><!DOCTYPE a [<!ENTITY {MARK} SYSTEM 'file:///etc/passwd'>]>&{MARK};",
    f"&lt;script&gt;{MARK}&#40;&#41;",
    f"[press](javascript:{MARK})",
    f"![picture](https://evil.invalid/{MARK}.png)",
    f"[ref]: https://evil.invalid/{MARK}",
    f"https://evil.invalid/{MARK} www.evil.invalid {MARK}@evil.invalid",
    f"<https://evil.invalid/{MARK}>",
    f"# {MARK}\n\n## FIRST: all is well\n\n- [x] done",
    f"`{MARK}` ``` {MARK} ``` ~~{MARK}~~ **{MARK}** _{MARK}_",
    f"| {MARK} | a |\n| --- | --- |",
    f"<b>{MARK}</b> <font color='red'>{MARK}</font> <para>{MARK}</para>",
    f"(Tj) ) Tj ET endstream endobj /JavaScript ({MARK}) /OpenAction << /S /Launch >>",
    f"\x1b[2J\x1b]0;{MARK}\x07\x00\x08",
    f"cabin\u202e{MARK}\u202c\u2066\u2069\u200b\ufeff",
    f"a\u2028b\u2029c\x85d{MARK}",
    f"ホテル 部屋 12 {MARK} 🔥",
    "x" * 300 + MARK,
    f"אתר {MARK} موقع 12",
    f"%s%n{{0.__class__}}${{{MARK}}}#{{{MARK}}}",
]


def with_text(text: str) -> Assessment:
    """Give a full answer in which reference, visit, meters and load states are all called `text`."""
    answer = everything()
    renamed = {label: f"{label} {text}" for label in STATES} | {name: f"{name} {text}" for name in METERS}

    def rename(value: object) -> object:
        if isinstance(value, str):
            for name, other in renamed.items():
                if value == name:
                    return other
            return value.replace("(heating)", f"({renamed['heating']})").replace(" loz ", f" {renamed['loz']} ")
        if isinstance(value, msgspec.Struct):
            changes = {field: rename(getattr(value, field)) for field in value.__struct_fields__}
            return msgspec.structs.replace(value, **changes)
        return [rename(item) for item in value] if isinstance(value, list) else value

    changed = rename(answer)
    assert isinstance(changed, Assessment)
    return msgspec.structs.replace(
        changed,
        reference=text,
        assumptions=[Assumption(pointer=f"/meters/{text}/resolution", value=text, unit=None, basis="typical")],
        model=MODEL,
        visit=AssessedVisit(
            site=text,
            appliance=text,
            receptacle="14-50R",
            run=None,
            taken_by=text,
            taken_at=text,
            calibration=text,
            meters=[VisitMeter(name=text, proved=True)],
        ),
    )
