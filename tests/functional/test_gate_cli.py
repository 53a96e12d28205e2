"""The gate as a user calls it: verdicts, exit statuses, reports."""

import json
from collections.abc import Callable
from importlib.resources import files as package_files
from pathlib import Path

import jsonschema
import pytest
from git_folder import GitFolder

LIMIT_CORNERS = "[limits]\ninside_corner_radius = 2\n"


@pytest.fixture
def plate(repo: GitFolder, steps: dict[str, bytes]) -> GitFolder:
    """A repository with one committed plate."""
    repo.put("cad/plate.step", steps["plate"], "plate")
    return repo


def test_a_first_commit_is_judged_alone(plate: GitFolder, dfmcheck: Callable) -> None:
    ran = dfmcheck("gate", cwd=plate.path)
    assert ran.status == 0
    part = ran.part("cad/plate.step")
    assert part["status"] == "added"
    assert part["box_mm"] == pytest.approx([60, 40, 10], abs=0.001)
    # volume by formula: block less four cylinders
    assert part["volume_mm3"] == pytest.approx(
        60 * 40 * 10 - 4 * 3.14159265 * 2.75**2 * 10, rel=1e-6
    )
    assert part["process"] == "milled"
    holes = [f for f in part["features"] if f["kind"] == "hole"]
    assert [(h["diameter_mm"], h["through"]) for h in holes] == [(5.5, True)] * 4


def test_the_json_agrees_with_its_published_schema(plate: GitFolder, dfmcheck: Callable) -> None:
    ran = dfmcheck("gate", cwd=plate.path)
    text = (
        package_files("dfmcheck.reporting").joinpath("data/report-1.schema.json").read_text("utf-8")
    )
    jsonschema.Draft202012Validator(json.loads(text)).validate(ran.report)


def test_a_passed_limit_holds_with_status_3(
    plate: GitFolder, steps: dict[str, bytes], dfmcheck: Callable
) -> None:
    plate.write("dfmcheck.toml", LIMIT_CORNERS)
    plate.commit("limits")
    plate.put("cad/plate.step", steps["pocket"], "pocket")
    ran = dfmcheck("gate", cwd=plate.path)
    assert (ran.status, ran.report["verdict"], ran.report["exit_status"]) == (3, "hold", 3)
    (finding,) = [f for f in ran.part("cad/plate.step")["findings"] if f["holds"]]
    assert finding["rule"] == "inside-corner-radius"
    assert finding["state"] == "new"
    assert "HOLD" in ran.out
    kinds = [c["kind"] for c in ran.part("cad/plate.step")["changes"]]
    assert kinds[0] == "pocket-added"


def test_an_old_finding_does_not_hold_unless_asked(
    plate: GitFolder, steps: dict[str, bytes], dfmcheck: Callable
) -> None:
    plate.write("dfmcheck.toml", LIMIT_CORNERS)
    plate.put("cad/plate.step", steps["pocket"], "pocket")
    plate.put("cad/plate.step", steps["pocket"] + b"/* saved again */\n", "again")
    ran = dfmcheck("gate", cwd=plate.path)
    assert ran.status == 0
    assert ran.part("cad/plate.step")["status"] == "re-exported"
    plate.write("dfmcheck.toml", LIMIT_CORNERS + '[gate]\nhold_on = "all"\n')
    plate.commit("stricter")
    again = dfmcheck("gate", "HEAD~2", "HEAD", cwd=plate.path)
    assert again.status == 3


def test_advise_reports_and_leaves_with_0(
    plate: GitFolder, steps: dict[str, bytes], dfmcheck: Callable
) -> None:
    plate.write("dfmcheck.toml", LIMIT_CORNERS + '[gate]\nmode = "advise"\n')
    plate.commit("limits")
    plate.put("cad/plate.step", steps["pocket"], "pocket")
    ran = dfmcheck("gate", cwd=plate.path)
    assert (ran.status, ran.report["verdict"]) == (0, "hold")


def test_an_unreadable_part_gives_4_and_the_others_are_answered(
    plate: GitFolder, steps: dict[str, bytes], dfmcheck: Callable
) -> None:
    plate.write("cad/plate.step", steps["thicker"])
    plate.write("cad/broken.step", steps["plate"][: len(steps["plate"]) // 2])
    plate.write("cad/empty.step", b"")
    plate.write(
        "cad/pointer.step",
        b"version https://git-lfs.github.com/spec/v1\noid sha256:" + b"a" * 64 + b"\nsize 9\n",
    )
    plate.commit("mixed")
    ran = dfmcheck("gate", cwd=plate.path)
    assert (ran.status, ran.report["verdict"]) == (4, "hold")
    assert ran.part("cad/plate.step")["status"] == "changed"
    for name in ("broken", "empty", "pointer"):
        part = ran.part(f"cad/{name}.step")
        assert part["status"] == "unreadable"
        assert part["not_read"]["reason"]
        assert f"cad/{name}.step" in ran.out
    assert "LFS" in ran.out


def test_an_unreadable_base_is_no_4(
    plate: GitFolder, steps: dict[str, bytes], dfmcheck: Callable
) -> None:
    plate.put("cad/plate.step", b"ISO-10303-21;\nnothing", "broken")
    plate.put("cad/plate.step", steps["plate"], "mended")
    ran = dfmcheck("gate", cwd=plate.path)
    assert ran.status == 0
    assert "before" in ran.out


def test_report_to_stdout_is_pure(plate: GitFolder, dfmcheck: Callable) -> None:
    ran = dfmcheck("gate", "--report", "json=-", cwd=plate.path)
    assert json.loads(ran.out)["verdict"] == "release"
    both = dfmcheck(
        "gate", "--report", "text=-", "--report", f"json={plate.path}/../two.json", cwd=plate.path
    )
    assert both.out.startswith("RELEASE")


def test_same_analysis_gives_identical_bytes(plate: GitFolder, dfmcheck: Callable) -> None:
    first = dfmcheck("gate", "--report", "json=-", cwd=plate.path)
    second = dfmcheck("gate", "--report", "json=-", "--no-cache", cwd=plate.path)
    assert first.out == second.out


def test_a_thicker_plate_is_one_change_not_five(
    plate: GitFolder, steps: dict[str, bytes], dfmcheck: Callable
) -> None:
    plate.put("cad/plate.step", steps["thicker"], "thicker")
    ran = dfmcheck("gate", cwd=plate.path)
    leading = [c for c in ran.part("cad/plate.step")["changes"] if c.get("caused_by") is None]
    assert len(leading) == 1, leading
    assert leading[0]["before"] == pytest.approx(10)
    assert leading[0]["after"] == pytest.approx(12)


def test_four_holes_widened_are_one_change(
    plate: GitFolder, steps: dict[str, bytes], dfmcheck: Callable
) -> None:
    plate.put("cad/plate.step", steps["wider-holes"], "wider")
    changes = dfmcheck("gate", cwd=plate.path).part("cad/plate.step")["changes"]
    (leading,) = [c for c in changes if c.get("caused_by") is None]
    assert (leading["kind"], leading["count"]) == ("hole-widened", 4)
    assert (leading["before"], leading["after"]) == pytest.approx((5.5, 6.6))


def test_material_alone_is_judged_like_a_change_of_shape(
    plate: GitFolder, dfmcheck: Callable
) -> None:
    entry = '[part.PL-1]\nfile = "cad/plate.step"\nmaterial = "{}"\n'
    plate.put("dfmcheck.toml", entry.format("EN AW-6082"), "entry")
    plate.put("dfmcheck.toml", entry.format("Ti-6Al-4V"), "titanium")
    part = dfmcheck("gate", cwd=plate.path).part("cad/plate.step")
    assert part["status"] == "configuration"
    kinds = {c["kind"] for c in part["changes"]}
    assert "material-changed" in kinds


def test_a_removed_part_is_said_once(plate: GitFolder, dfmcheck: Callable) -> None:
    (plate.path / "cad/plate.step").unlink()
    plate.write("notes.txt", "gone")
    plate.commit("removed")
    ran = dfmcheck("gate", cwd=plate.path)
    assert [p["status"] for p in ran.report["parts"]] == ["removed"]
    assert ran.out.count("cad/plate.step") == 1


def test_a_rename_is_followed(plate: GitFolder, dfmcheck: Callable) -> None:
    plate.git("mv", "cad/plate.step", "base plate é.step")
    plate.commit("rename")
    part = dfmcheck("gate", cwd=plate.path).part("base plate é.step")
    assert (part["status"], part["former_file"]) == ("renamed", "cad/plate.step")


def test_hostile_names_come_out_harmless(
    repo: GitFolder, steps: dict[str, bytes], dfmcheck: Callable
) -> None:
    names = [
        "[bold red]x[/].step",
        "\x1b[31mred\x07.step",
        "a\nb.step",
        "\u202egnp.step",
        "x" * 200 + ".step",
    ]
    for n, name in enumerate(names):
        repo.write(name, steps["plate"] + b"/* %d */\n" % n)
    repo.commit("hostile")
    ran = dfmcheck("gate", "--colour", cwd=repo.path)
    assert ran.status == 0
    assert "[bold red]x[/].step" in ran.out
    assert "\x1b[31m" not in ran.out
    assert "\x07" not in ran.out
    assert "\u202e" not in ran.out
    assert {p["file"] for p in ran.report["parts"]} == set(names)


def test_nothing_changed_is_a_fast_release(plate: GitFolder, dfmcheck: Callable) -> None:
    plate.put("notes.txt", "x", "notes")
    ran = dfmcheck("gate", cwd=plate.path)
    assert (ran.status, ran.report["parts"]) == (0, [])


def test_the_work_tree_is_compared_when_dirty(
    plate: GitFolder, steps: dict[str, bytes], dfmcheck: Callable
) -> None:
    plate.write("cad/plate.step", steps["thicker"])
    before = plate.state()
    ran = dfmcheck("gate", cwd=plate.path)
    assert ran.part("cad/plate.step")["status"] == "changed"
    assert ran.report["range"]["after"]["kind"] == "worktree"
    assert plate.state() == before


def test_part_alone(plate: GitFolder, dfmcheck: Callable) -> None:
    for name in ("cad/plate.step", "HEAD:cad/plate.step"):
        ran = dfmcheck("part", name, cwd=plate.path)
        assert ran.status == 0
        assert ran.part("cad/plate.step")["stock"]["form"] in {"plate", "flat", "block"}


def test_part_outside_any_repository(
    tmp_path: Path, steps: dict[str, bytes], dfmcheck: Callable
) -> None:
    (tmp_path / "loose.step").write_bytes(steps["plate"])
    assert dfmcheck("part", "loose.step", cwd=tmp_path).status == 0
