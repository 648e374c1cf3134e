"""Files are whole or as they were; a device or a pipe is written to and stays what it is."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from formula_vcs.errors import UserError
from formula_vcs.toml.atomic import write_atomic, write_new, write_output


def test_write_keeps_the_mode(tmp_path: Path) -> None:
    """A file keeps its mode and leaves nothing beside it; a new one gets the usual mode."""
    file = tmp_path / "a.toml"
    file.write_bytes(b"old")
    file.chmod(0o640)
    write_atomic(file, b"new\r\n")
    mask = os.umask(0o022)
    write_atomic(tmp_path / "b.toml", b"")
    os.umask(mask)

    assert file.read_bytes() == b"new\r\n"
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    assert stat.S_IMODE((tmp_path / "b.toml").stat().st_mode) == 0o644
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["a.toml", "b.toml"]


def test_write_does_not_follow_a_link(tmp_path: Path) -> None:
    """A link is replaced; what it leads to stays."""
    outside = tmp_path / "outside"
    outside.write_bytes(b"theirs")
    link = tmp_path / "a.toml"
    link.symlink_to(outside)
    write_atomic(link, b"ours")

    assert outside.read_bytes() == b"theirs"
    assert link.read_bytes() == b"ours"
    assert not link.is_symlink()


def test_failed_write_leaves_the_old(tmp_path: Path) -> None:
    """A write that fails leaves the old file and no litter."""
    file = tmp_path / "a.toml"
    file.write_bytes(b"old")
    with pytest.raises(TypeError):
        write_atomic(file, "text")  # type: ignore[arg-type]

    assert file.read_bytes() == b"old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["a.toml"]


def test_killed_write_leaves_old_or_new(tmp_path: Path) -> None:
    """A process that is killed while it writes leaves the old file or the new one, whole."""
    file = tmp_path / "a.toml"
    old, new = b"o" * 2_000_000, b"n" * 2_000_000
    file.write_bytes(old)
    code = (
        "import sys; from pathlib import Path; from formula_vcs.toml.atomic import write_atomic\n"
        "print('ready', flush=True)\n"
        "while True: [write_atomic(Path(sys.argv[1]), letter * 2_000_000) for letter in (b'n', b'o')]"
    )
    for _ in range(3):
        with subprocess.Popen([sys.executable, "-c", code, str(file)], stdout=subprocess.PIPE) as writer:
            assert writer.stdout is not None
            writer.stdout.readline()
            time.sleep(0.05)
            writer.send_signal(signal.SIGKILL)

        assert file.read_bytes() in (old, new)


def test_a_new_file_never_takes_the_place_of_one(tmp_path: Path) -> None:
    """Of two that write a new file one has it, and nothing else is left."""
    write_new(tmp_path / "a", b"first")
    with pytest.raises(FileExistsError):
        write_new(tmp_path / "a", b"second")

    assert (tmp_path / "a").read_bytes() == b"first"
    assert [entry.name for entry in tmp_path.iterdir()] == ["a"]


def test_a_name_as_long_as_names_may_be(tmp_path: Path) -> None:
    """The file beside has a name of its own length."""
    name = "n" * 250
    write_output(str(tmp_path / name), b"whole")

    assert (tmp_path / name).read_bytes() == b"whole"


# --- devices and pipes


def test_a_pipe_is_written_through(tmp_path: Path) -> None:
    """A FIFO, by its name or through a link, gives its reader all and stays a FIFO."""
    fifo, link = tmp_path / "fifo", tmp_path / "link"
    os.mkfifo(fifo)
    link.symlink_to(fifo)
    data = b"report" * 100_000
    for name in (fifo, link):
        got: list[bytes] = []
        reader = threading.Thread(target=lambda got=got: got.append(fifo.read_bytes()))
        reader.start()
        write_output(str(name), data)
        reader.join(10)

        assert got == [data]
        assert stat.S_ISFIFO(fifo.stat().st_mode)
    assert link.is_symlink()


@pytest.mark.skipif(os.geteuid() != 0, reason="only root makes devices")
def test_a_device_is_written_through(tmp_path: Path) -> None:
    """A node like /dev/null is one afterwards, as root too."""
    null = tmp_path / "null"
    try:
        os.mknod(null, stat.S_IFCHR | 0o666, os.makedev(1, 3))
        null.open("wb").close()
    except PermissionError:
        pytest.skip("no devices in this container")
    write_output(str(null), b"report")

    assert stat.S_ISCHR(null.stat().st_mode)
    assert null.stat().st_rdev == os.makedev(1, 3)


@pytest.mark.parametrize("name", ["/dev/stdout", "/dev/fd/1", "/proc/self/fd/1", "/dev/../dev/stdout"])
def test_standard_output_by_its_name(tmp_path: Path, name: str) -> None:
    """A file that the shell opened as standard output is written on, not begun again and not replaced."""
    file = tmp_path / "out"
    code = f"from formula_vcs.toml.atomic import write_output; write_output({name!r}, b'report')"
    with file.open("ab") as out:
        out.write(b"before,")
        out.flush()
        subprocess.run([sys.executable, "-c", code], stdout=out, check=True)
        out.write(b",after")

    assert file.read_bytes() == b"before,report,after"


def test_a_folder_is_no_output(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="cannot be written: Is a directory"):
        write_output(str(tmp_path), b"report")


def test_a_folder_that_is_not_there_is_no_output(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="cannot be written: No such file"):
        write_output(str(tmp_path / "none" / "out"), b"report")
