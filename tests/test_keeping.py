"""Secrets at rest."""

import stat
from pathlib import Path
from typing import Any

import pytest

from groutjobs.keeping import NotOurs, closed, key_file, opened


def test_what_was_closed_opens_and_cannot_be_read() -> None:
    token = closed("a shift key", purpose="shift key")
    assert "shift" not in token
    assert opened(token, purpose="shift key") == "a shift key"


def test_it_refuses_another_purpose() -> None:
    token = closed("a shift key", purpose="shift key")
    with pytest.raises(NotOurs, match="second factor"):
        opened(token, purpose="second factor")


def test_a_changed_secret_key_opens_while_the_old_one_is_named(settings: Any) -> None:
    old = settings.SECRET_KEY
    token = closed("a shift key", purpose="shift key")
    settings.SECRET_KEY = "another key, fifty characters long or more, for tests"
    with pytest.raises(NotOurs):
        opened(token, purpose="shift key")
    settings.SECRET_KEY_FALLBACKS = [old]
    assert opened(token, purpose="shift key") == "a shift key"


def test_the_folder_of_keys_is_for_this_user_alone(settings: Any, tmp_path: Path) -> None:
    settings.KEY_ROOT = tmp_path / "keys"
    assert key_file("seal.pem").parent == tmp_path / "keys"
    assert stat.S_IMODE((tmp_path / "keys").stat().st_mode) == 0o700
