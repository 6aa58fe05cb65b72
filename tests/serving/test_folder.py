"""One site to a data folder, and a clear word when the folder will not do."""

import errno
import os
import tempfile

import pytest

from refuge.serving.errors import StartRefused
from refuge.serving.folder import held


def test_the_folder_is_made_for_its_owner_alone(tmp_path):
    with held(tmp_path / "data", "http://localhost:8000"):
        assert (tmp_path / "data").stat().st_mode & 0o777 == 0o700
        assert (tmp_path / "data" / "logs").is_dir()


def test_the_same_folder_can_be_held_again_after_the_first_has_let_go(tmp_path):
    for _ in range(2):
        with held(tmp_path, "http://localhost:8000"):
            assert (tmp_path / "address").read_text() == "http://localhost:8000"
        assert not (tmp_path / "address").exists()


@pytest.mark.parametrize("number", [errno.EROFS, errno.EACCES, errno.ENOSPC])
def test_a_folder_that_takes_no_file_is_refused_in_one_sentence(tmp_path, monkeypatch, number):
    """Simulated, because the tests may run as root, whom no permission stops."""

    def refuse(**kwargs):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(tempfile, "TemporaryFile", refuse)
    with pytest.raises(StartRefused) as refusal, held(tmp_path, "http://localhost:8000"):
        pass
    assert str(refusal.value).startswith(
        f"The data folder {tmp_path} cannot be written to ({os.strerror(number)})"
    )
    assert "\n" not in str(refusal.value)
