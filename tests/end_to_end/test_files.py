"""What is written is written whole: several files as one, never over an input, refused in words when the disk refuses."""

from __future__ import annotations

import codecs
import errno
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from scribeline.cli import main
from scribeline.drawing import dxf
from scribeline.drawing.cuts import cut_sheet
from scribeline.files import FileFault, Taken, held, replace_all, unfinished

from ..conftest import DEMO, Edit, Planned


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below a folder by its name there, hidden ones too."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.fixture
def old(tmp_path: Path) -> dict[str, bytes]:
    """A set of three files as it was before."""
    for name in ("a", "b", "c"):
        (tmp_path / name).write_bytes(b"old " + name.encode())
    return contents(tmp_path)


NEW = {"a": b"new a", "b": b"new b", "fresh": b"new", "c": b"new c"}


def new_in(folder: Path) -> dict[Path, bytes]:
    return {folder / name: content for name, content in NEW.items()}


class TestAsOne:
    def test_every_file_or_none(self, tmp_path: Path, old: dict[str, bytes]) -> None:
        """A folder has the last name: without the look at the whole set two files were new and the rest old."""
        (tmp_path / "c").unlink()
        (tmp_path / "c").mkdir()
        with pytest.raises(
            FileFault, match=r"c cannot be written: a folder has that name.*Nothing was changed"
        ):
            replace_all(new_in(tmp_path))
        del old["c"]
        assert contents(tmp_path) == old

    @pytest.mark.parametrize("at", range(4))
    def test_one_that_is_held_open(
        self, tmp_path: Path, old: dict[str, bytes], monkeypatch: pytest.MonkeyPatch, at: int
    ) -> None:
        """As on a system where a viewer keeps a file from being replaced: whichever it is, all stay as they were."""
        refused = tmp_path / list(NEW)[at]
        move = os.replace

        def replace(source: Path, target: Path) -> None:
            if target == refused and source.name.startswith("new"):
                raise PermissionError(errno.EACCES, "Permission denied", str(target))
            move(source, target)

        monkeypatch.setattr(os, "replace", replace)
        with pytest.raises(FileFault, match=r"close the program that has it open\. Every file is as it was"):
            replace_all(new_in(tmp_path))
        assert contents(tmp_path) == old

    def test_without_second_names(
        self, tmp_path: Path, old: dict[str, bytes], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """A memory stick's file system has no hard links: the old set is copied aside instead."""

        def no_links(*_: object) -> None:
            raise OSError(errno.EPERM, "Operation not permitted")

        monkeypatch.setattr(os, "link", no_links)
        self.test_one_that_is_held_open(tmp_path, old, monkeypatch, 3)

    def test_all_are_replaced(self, tmp_path: Path, old: dict[str, bytes]) -> None:
        (tmp_path / "a").chmod(0o640)
        assert replace_all(new_in(tmp_path)) == list(new_in(tmp_path))
        assert contents(tmp_path) == NEW
        assert (tmp_path / "a").stat().st_mode & 0o777 == 0o640

    def test_written_through_a_link(self, tmp_path: Path, old: dict[str, bytes]) -> None:
        (tmp_path / "shelf").mkdir()
        (tmp_path / "shelf" / "link").symlink_to("../a")
        replace_all({tmp_path / "shelf" / "link": b"new"})
        assert (tmp_path / "shelf" / "link").readlink() == Path("../a")
        assert contents(tmp_path) == {**old, "a": b"new", "shelf/link": b"new"}

    @pytest.mark.skipif(not Path("/dev/null").exists(), reason="no such device here")
    def test_a_device_is_left_alone(self) -> None:
        with pytest.raises(FileFault, match="no ordinary file"):
            replace_all({Path("/dev/null"): b"new"})
        assert not Path("/dev/null").is_file()

    def test_left_overs_go_and_work_in_hand_stays(self, tmp_path: Path) -> None:
        """A process killed in the midst of writing leaves its folder; the next one clears it, but none that is in use."""
        code = (
            "import os, sys; from pathlib import Path; from scribeline.files import unfinished\n"
            "with unfinished(Path(sys.argv[1])) as room:\n"
            "    (room / 'part').write_bytes(b'half'); os._exit(9)"
        )
        subprocess.run([sys.executable, "-c", code, str(tmp_path)], check=False)
        assert [name.rpartition("/")[2] for name in sorted(contents(tmp_path))] == ["held", "part"]
        with unfinished(tmp_path) as room:
            replace_all({tmp_path / "a": b"new"})
            assert sorted(contents(tmp_path)) == [f"{room.name}/held", "a"]
        assert contents(tmp_path) == {"a": b"new"}


def test_a_file_is_held_by_one(tmp_path: Path) -> None:
    with held(tmp_path / "one", "the first"):
        with pytest.raises(Taken) as taken, held(tmp_path / "one"):
            pass
        assert taken.value.words == "the first"
    with held(tmp_path / "one"):
        pass


class TestFullDisk:
    """A limit on the size of files (setrlimit(2), RLIMIT_FSIZE) stands for a disk with no room: writing fails midway."""

    def test_a_set_stays_the_old_one(self, tmp_path: Path, old: dict[str, bytes]) -> None:
        resource = pytest.importorskip("resource")
        code = (
            "import sys; from pathlib import Path; from scribeline.files import FileFault, replace_all\n"
            "try: replace_all({Path(name): b'n' * size for name, size in (('a', 9), ('b', 90_000), ('new', 9))})\n"
            "except FileFault as fault: sys.exit(str(fault))"
        )

        def small() -> None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, 60_000))

        done = subprocess.run(
            [sys.executable, "-c", code],
            cwd=tmp_path,
            capture_output=True,
            text=True,
            preexec_fn=small,
            check=False,
        )
        assert done.returncode == 1
        assert done.stderr.startswith("b cannot be written: the file is larger than the disk")
        assert "Nothing was changed" in done.stderr
        assert contents(tmp_path) == old

    def test_said_in_words(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        def full(_: int) -> None:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        monkeypatch.setattr(os, "fsync", full)
        with pytest.raises(FileFault, match="a cannot be written: the disk is full: make room"):
            replace_all({tmp_path / "a": b"new"})
        assert contents(tmp_path) == {}

    @pytest.mark.parametrize(
        ("number", "words"),
        [(errno.EROFS, "the disk may only be read"), (errno.EACCES, "you may not write or read there")],
    )
    def test_a_folder_that_may_only_be_read(
        self, tmp_path: Path, old: dict[str, bytes], monkeypatch: pytest.MonkeyPatch, number: int, words: str
    ) -> None:
        """The system refuses the first thing made in it (an account that may do anything is refused nothing)."""

        def refuse(path: str, _mode: int = 0) -> None:
            raise OSError(number, os.strerror(number), path)

        monkeypatch.setattr(os, "mkdir", refuse)
        with pytest.raises(FileFault, match=f"a cannot be written: {words}: .*Nothing was changed"):
            replace_all(new_in(tmp_path))
        assert contents(tmp_path) == old


class TestInputs:
    """An output never takes the place of what a command was given."""

    def refused(self, *words: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        before = contents(folder)
        assert main(list(words)) == 2
        said = capsys.readouterr().err
        assert "is not written over" in said
        assert contents(folder) == before

    def test_the_job(self, demo_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
        job = str(demo_file)
        self.refused("plan", job, "--out", job, folder=demo_file.parent, capsys=capsys)
        link = demo_file.with_name("link.json")
        link.symlink_to(demo_file.name)
        self.refused("plan", job, "--out", str(link), folder=demo_file.parent, capsys=capsys)

    def test_the_drawing_and_the_records(
        self, tmp_path: Path, edited: Edit, planned: Planned, capsys: pytest.CaptureFixture[str]
    ) -> None:
        (tmp_path / "body.dxf").write_bytes(dxf.write(cut_sheet(planned())))
        (tmp_path / "shop.toml").write_text('scribeline_records = 1\nunits = "mm"\n', encoding="utf-8")
        drawing = {"file": "body.dxf", "along": "+x", "layer": "OUTLINE", "origin": [0, 0]}
        job = tmp_path / "job.toml"
        job.write_text(edited({"body.outline": drawing, "bench.records": "shop.toml"}), encoding="utf-8")
        for name in ("body.dxf", "shop.toml"):
            out = str(tmp_path / name)
            self.refused("plan", str(job), "--out", out, folder=tmp_path, capsys=capsys)

    def test_a_demo_that_was_worked_in(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        """It makes room for the new demo, and is kept under a name of its own."""
        own = "# my own readings\n" + DEMO
        (tmp_path / "marram.toml").write_text(own, encoding="utf-8")
        (tmp_path / "marram-kept.toml").write_text("# an earlier one", encoding="utf-8")
        assert main(["demo", "--out", str(tmp_path)]) == 0
        assert (tmp_path / "marram-kept1.toml").read_text(encoding="utf-8") == own
        assert "marram-kept1.toml" in capsys.readouterr().out
        assert (tmp_path / "marram-kept.toml").read_text(encoding="utf-8") == "# an earlier one"
        assert not (tmp_path / "marram-too-thin-kept.toml").exists()


class TestWrittenBack:
    """Every byte of a file that is not the reading stays: line ends, byte-order mark, permissions, the link it is."""

    def test_measure(self, tmp_path: Path) -> None:
        real, job = tmp_path / "shelf" / "real.toml", tmp_path / "job.toml"
        real.parent.mkdir()
        job.symlink_to(real)
        was = codecs.BOM_UTF8 + DEMO.encode().replace(b"\n", b"\r\n")
        real.write_bytes(was)
        real.chmod(0o640)
        assert main(["measure", str(job), "bridge.spacing", "10.55 +/- 0.05"]) in (0, 1)
        assert job.is_symlink()
        assert real.stat().st_mode & 0o777 == 0o640
        lines = list(zip(was.split(b"\n"), real.read_bytes().split(b"\n"), strict=True))
        ((_, now),) = [(then, now) for then, now in lines if then != now]
        assert now.startswith(b'spacing = "10.55 +/- 0.05"')
        assert now.endswith(b"\r")

    def test_measure_where_nothing_was_stated(self, tmp_path: Path) -> None:
        """A line that is added ends as the others do."""
        job = tmp_path / "job.toml"
        job.write_bytes(DEMO.encode().replace(b"\n", b"\r\n"))
        assert main(["measure", str(job), "setup.relief", "0.2 +/- 0.05"]) in (0, 1)
        now = job.read_bytes()
        assert b"relief" in now
        assert now.count(b"\r\n") == now.count(b"\n")

    def test_a_file_that_mixes_line_ends(self, tmp_path: Path) -> None:
        job = tmp_path / "job.toml"
        job.write_bytes(DEMO.encode().replace(b"\n", b"\r\n", 20))
        assert main(["measure", str(job), "bridge.spacing", "10.55 +/- 0.05"]) in (0, 1)
        assert job.read_bytes().count(b"\r\n") == 20

    def test_records(self, demo_file: Path) -> None:
        records = demo_file.with_name("shop.toml")
        was = codecs.BOM_UTF8 + b'scribeline_records = 1\r\nunits = "mm"\r\n'
        records.write_bytes(was)
        words = ["record", str(demo_file), str(records), "--saddles", "1 2 3 2 3 4"]
        assert main(words) == 0
        now = records.read_bytes()
        assert now.startswith(was)
        assert now.count(b"\r\n") == now.count(b"\n") > was.count(b"\n")


class TestJson:
    """What is asked for as JSON is answered as JSON, refusals too (RFC 8259)."""

    @pytest.mark.parametrize(
        "words",
        [
            ["explain", "JOB", "--json"],
            ["explain", "JOB", "no-such-cut", "--json"],
            ["check", "JOB", "--jsn", "--json"],
            ["bars", "JOB", "200", "200 yards", "--out", "x", "--json"],
            ["bars", "JOB", "199 mm", "199 mm", "--out", "JOB", "--json"],
            ["learn", ".", "--json"],
            ["parts", "gold", "--json"],
        ],
        ids=" ".join,
    )
    def test_commands(self, demo_file: Path, capsys: pytest.CaptureFixture[str], words: list[str]) -> None:
        code = main([str(demo_file) if word == "JOB" else word for word in words])
        said = capsys.readouterr()
        answer = json.loads(said.out)
        assert said.err == ""
        assert ("faults" in answer) == (code == 2)
        assert all(fault["message"] for fault in answer.get("faults", ()))
