"""What an answer says on a page and on paper."""

from __future__ import annotations

from kitwright.worksheets.declaration import load
from kitwright.worksheets.reading import from_toml, read
from kitwright.worksheets.showing import assumptions


def test_what_was_assumed_names_fields_by_their_labels() -> None:
    worksheet = load("sweep")
    given = from_toml(worksheet.example)
    unsaid = {key: given[key] for key in given if key not in ("sag", "bearing_clearance")}
    answer = worksheet.solve(read(worksheet.case, unsaid))
    assert any(line.startswith("bearing_clearance: ") for line in answer.assumed)
    told = assumptions(worksheet.case, answer)
    label = worksheet.case.model_fields["bearing_clearance"].description
    assert [line for line in told if line.startswith(f"{label}: ")]
    assert len(told) == len(answer.assumed)
