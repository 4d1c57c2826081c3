"""The example in docs/planning.md is read, drawn and matched as the page says."""

import re
from pathlib import Path

from fairsmoke.design.draw import draw_layout
from fairsmoke.planning.remarks import Remark, RemarkKind
from fairsmoke.setting_up.ask import look_at
from fairsmoke.setting_up.ask_answers import asked_of_file

PAGE = Path(__file__).parents[2] / "docs" / "planning.md"


def test_the_file_on_the_page_is_a_trial(tmp_path: Path) -> None:
    page = PAGE.read_text(encoding="utf-8")
    (example,) = re.findall(r"```yaml\n(.*?)```", page, re.DOTALL)
    file = tmp_path / "trial.yaml"
    file.write_text(example, encoding="utf-8")
    found = look_at(asked_of_file(file))
    assert [remark.code for remark in found.remarks] == ["measure-disturbed"]
    layout = draw_layout(found.plan.at_hand, [arm.id for arm in found.trial.arms], 1)
    assert {slot.block for slot in layout.slots} == {"pair-1", "pair-2"}
    assert "is free of the cook and the place" in layout.free


def test_every_code_of_a_remark_stands_on_the_page() -> None:
    codes = {Remark(kind).code for kind in RemarkKind}
    page = PAGE.read_text(encoding="utf-8")
    assert [code for code in codes if f"`{code}`" not in page] == []
