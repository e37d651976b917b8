"""`ashbook judge --explain`: worked filters line by line by hand, and the same figures as the verdict's."""

import json
import math

import pytest

from tests.test_judge_command import judged, sample
from tests.trade.readings import after, good, rod
from tests.worked_cases import WORKED
from webform.__main__ import main
from webform.commands.quantities import QUANTITIES


def figures(capsys, tmp_path, case):
    """{(topic, what): value} of the arithmetic."""
    found = judged(capsys, tmp_path, case, "--explain")
    return {(line["topic"], line["what"].strip()): line["value"] for line in found["arithmetic"]}, found


def one(lines, what):
    """The figure of the only line of that name."""
    (value,) = [value for (_, name), value in lines.items() if name == what]
    return value


def test_b_worked_by_hand_line_by_line(capsys, tmp_path):
    lines, _ = figures(capsys, tmp_path, WORKED[3][1])
    # (290 - 130)/290 = 0.551724; 20 of them over 24 = 0.459770; s = 0.210038; t(23) = 2.069 (NIST e-Handbook 1.3.6.7.2)
    assert one(lines, "cell 1 hard") == pytest.approx(0.551724, abs=1e-6)
    assert one(lines, "cell 24 free") == 0.0
    assert one(lines, "average, hard cells only") == 0.4598
    topic = "Rod, before cleaning: blocked share of each cell"
    assert lines[topic, "standard deviation s"] == pytest.approx(0.210038, abs=1e-6)
    assert lines[topic, "t for 95 %, two-sided"] == pytest.approx(2.069, abs=5e-4)
    assert one(lines, "cells hard-blocked") == 20
    assert one(lines, "share of the cells") == 0.8333


def test_f_worked_by_hand_line_by_line(capsys, tmp_path):
    lines, _ = figures(capsys, tmp_path, WORKED[8][1])
    # 2.10 x 0.8243 = 1.731 inH2O = 431.2 Pa, read 1.74: 0.5 % high; 1.80 x (0.93 + 0.07/0.8243) = 1.8269 inH2O = 455.06 Pa
    assert one(lines, "expected today") == pytest.approx(431.2, abs=0.3)
    assert one(lines, "drift") == pytest.approx(0.0052, abs=3e-4)
    assert one(lines, "share φ that goes with density") == 0.07
    assert one(lines, "correction factor") == pytest.approx(1.8269 / 1.80, abs=2e-4)
    assert one(lines, "corrected") == pytest.approx(455.06, abs=0.1)
    # the guard of 1.645 x 0.054 ends below the middle, so 1.875 inH2O = 467.04 Pa
    assert one(lines, "guarded upper end") == 467.0
    assert lines["Today's air", "density"] == pytest.approx(0.8243 * 1.2046, abs=5e-4)  # CoolProp 8.0.0 density at sea level


def test_c_and_the_masses_worked_by_hand(capsys, tmp_path):
    lines, _ = figures(capsys, tmp_path, WORKED[4][1])
    assert one(lines, "share of the cells") == 0.5833  # 14/24
    assert one(lines, "taken off by the last round") == 8.0
    assert one(lines, "smallest change that counts") == pytest.approx(14.1421, abs=1e-4)  # 2 x 1.41421 x 5 g


def test_what_was_fitted_is_taken_off_line_by_line(capsys, tmp_path):
    # the example: net 14,480 g with an adapter of 1,200 g off, so the scale showed 15,680 g
    lines, _ = figures(capsys, tmp_path, sample())
    assert lines["Weight", "as found, gross"] == 15680.0 and lines["Weight", "as found"] == 14480.0
    assert one(lines, "smallest change that counts") == pytest.approx(14.1421, abs=1e-4)  # the same adapter: it cancels
    case = sample()
    case["before"]["weight"]["parts"] = [{"part": "adapter", "mass": "1203 g"}, {"part": "clamps", "mass": "400 g"}]
    lines, _ = figures(capsys, tmp_path, case)
    # read for the difference: filter twice, adapter twice, clamps once: 2 x √5 x 5 g = 22.36 g
    assert one(lines, "smallest change that counts") == pytest.approx(22.3607, abs=1e-4)
    assert lines["Weight", "as found, gross"] == 14480.0 + 1203.0 + 400.0 and one(lines, "less clamps") == 400.0


def test_the_example_s_ash_and_chance_by_hand(capsys, tmp_path):
    lines, found = figures(capsys, tmp_path, sample())
    assert one(lines, "oil used") == 32.0  # 4000 h x 0.008 L
    assert one(lines, "expected ash") == pytest.approx(32 * 0.86 * 10 * 0.8, abs=0.05)  # 220.16 g
    assert one(lines, "ash that came out") == 240.0  # 14,020 - 13,780
    assert one(lines, "came out / expected") == pytest.approx(240 / 220.16, abs=1e-3)
    # 10.5 in: 0.0558645 m² x 0.305 m = 17.0387 L x 0.344694 open = 5.8731 L; 240/(5873.1 x 0.3) = 0.13621
    assert one(lines, "blockage that ash explains") == pytest.approx(0.13621, abs=2e-5)
    # 7,341 h by hand; a forecast is told to two leading digits
    assert one(lines, "next service") == pytest.approx(4000 * 0.25 * 5873.1 * 0.3 / 240, abs=50)
    guarded = (2.00 - 1.645 * math.hypot(0.05, one(lines, "u of the way there") / 249.08891)) * 249.08891
    assert one(lines, "guarded upper end") == pytest.approx(guarded, abs=0.06)
    assert found["text"] == "OK to reinstall"


def test_the_arithmetic_ends_at_the_figures_of_the_verdict(capsys, tmp_path):
    lines, found = figures(capsys, tmp_path, sample())
    (reason,) = [reason["values"] for reason in found["reasons"] if reason["code"] == "flow_within"]
    for what, name in (
        ("restriction compared", "drop_pa"),
        ("guarded upper end", "limit_pa"),
        ("u of the reading", "u_pa"),
        ("chance to lie in the window", "chance_fraction"),
        ("lower end", "low_pa"),
        ("upper end", "high_pa"),
    ):
        assert one(lines, what) == reason[name], what
    (average,) = [entry["values"] for entry in found["findings"] if entry["code"] == "rod_average"]
    topic = "Rod, after cleaning: blocked share of each cell"
    assert lines[topic, "average, all cells"] == average["average_fraction"]


def test_ranges_are_told_as_a_person_types_them(capsys, tmp_path):
    found = judged(capsys, tmp_path, sample(), "--explain")
    ash = [line for line in found["arithmetic"] if line["topic"] == "Ash"]
    least = next(line for line in ash if line["what"].strip() == "range from")
    soonest = next(line for line in ash if line["what"].strip() == "not before")
    # ln² 0.7 = 0.1272, 0.98: 0.0004, 0.8: 0.0498, 0.75: 0.0828 twice; √0.3430 = 0.5856; e^-0.5856 x 220.16 = 122.6 g
    assert least["how"].startswith("x e^-√(ln² 0.7 + ln² 0.98 + ln² 0.8 + ln² 0.75 + ln² 0.75)") and least["value"] == 122.6
    # 240/254.142 = 0.9444: ln² 0.0033; 0.8: 0.0498; √0.0531 = 0.2304; e^-0.2304 x 7341 = 5,831 h, told as 5,800
    assert soonest["how"].startswith("x e^-√(ln² 0.9444 + ln² 0.8)") and soonest["value"] == 5800


def test_a_next_service_is_explained_where_no_oil_and_no_rod_is_known(capsys, tmp_path):
    case = sample()
    case["use"], case["before"]["rod"] = {"hours": 4000}, None
    lines, found = figures(capsys, tmp_path, case)
    assert "next_service" in [reason["code"] for reason in found["findings"]]
    assert (one(lines, "ash that came out"), one(lines, "next service")) == (240.0, 7300.0)


def test_a_flow_through_brick_is_explained_without_the_channels_of_a_wall_flow_one(capsys, tmp_path):
    case = sample()
    case["unit_kind"] = "flow_through"
    lines, found = figures(capsys, tmp_path, case)
    (carried,) = [entry["values"] for entry in found["findings"] if entry["code"] == "flow_corrected"]
    assert one(lines, "share φ that goes with density") == carried["share_fraction"] == 0.07
    assert not [what for _, what in lines if what in ("channel opening", "clean brick, from")]


def test_repeats_that_disagree_are_explained_and_compared_with_nothing(capsys, tmp_path):
    # 500 - 400 = 100 Pa; a tenth of 2.00 inH2O is 49.8 Pa
    case = sample()
    del case["readings"]["flow"]["drops"]
    case["readings"]["flow"]["drops_pa"] = [400, 500]
    lines, _ = figures(capsys, tmp_path, case)
    assert one(lines, "apart") == 100.0
    assert not [what for _, what in lines if what == "restriction compared"]


def test_each_line_of_arithmetic_names_a_quantity_that_exists(capsys, tmp_path):
    found = judged(capsys, tmp_path, sample(), "--explain")
    named = {
        line["source"].rpartition("ashbook calc ")[2] for line in found["arithmetic"] if "ashbook calc " in line["source"]
    }
    assert len(named) > 25 and named <= set(QUANTITIES)


def test_how_many_more_cells_it_takes_is_the_same_in_arithmetic_and_verdict(capsys, tmp_path):
    # All of 24 hard by 0.32 of 290 mm: two more would settle it, by hand in tests/trade/test_tricky_filters.py.
    lines, verdict = figures(capsys, tmp_path, after(good(rod=rod((24, "hard", 197.2)))))
    more = next(reason["values"]["more"] for reason in verdict["reasons"] if reason["code"] == "rod_more_cells")
    assert one(lines, "more cells for the average") == more == 2
    # What is condemned asks for no more cells.
    lines, _ = figures(capsys, tmp_path, WORKED[4][1])
    assert not [name for _, name in lines if name.startswith("more cells")]


def test_the_whole_table_in_use_is_told_also_where_the_shop_set_one_row(capsys, tmp_path):
    rows = [{"id": "R3", "name": "lit_cells", "value": 10, "origin": "shop"}]
    given = {**after(good()), "rules": {"revision": "ours", "rows": rows}}
    file = tmp_path / "own.json"
    file.write_text(json.dumps(given), encoding="utf-8")
    assert main(["judge", str(file), "--explain"]) == 0
    said = capsys.readouterr().out
    assert "More lit cells than this: replace. Limit: 10. (set by this shop; starting value 20)" in said
    assert "A brick that is cracked, melted or loose is replaced. (common practice, no source)" in said
