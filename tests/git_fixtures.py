"""Real git repositories in temporary folders, cut off from the user's own configuration."""

from collections.abc import Callable
from pathlib import Path

import pytest
from git_folder import CI_VARIABLES, GitFolder

from dfmcheck.history.process import LOCAL_VARIABLES


@pytest.fixture(autouse=True)
def own_git(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home with a git configuration of its own, outside of any CI; the home's folder."""
    home = tmp_path_factory.mktemp("home")
    for name in (*LOCAL_VARIABLES, *CI_VARIABLES):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(home / ".config"))
    monkeypatch.setenv("GIT_CONFIG_NOSYSTEM", "1")
    monkeypatch.setenv("GIT_CONFIG_GLOBAL", str(home / ".gitconfig"))
    for who in ("AUTHOR", "COMMITTER"):
        monkeypatch.setenv(f"GIT_{who}_NAME", "Ada Invented")
        monkeypatch.setenv(f"GIT_{who}_EMAIL", "ada@example.invalid")
    (home / ".gitconfig").write_text('[protocol "file"]\n\tallow = always\n')
    return home


@pytest.fixture
def make_repo(tmp_path: Path) -> Callable[..., GitFolder]:
    """Makes repositories: `make_repo("name", "--bare")`."""

    def make(name: str = "repo", *options: str) -> GitFolder:
        return GitFolder(tmp_path / name, *options)

    return make


@pytest.fixture
def repo(make_repo: Callable[..., GitFolder]) -> GitFolder:
    """An empty repository."""
    return make_repo()


@pytest.fixture
def git_at() -> Callable[[Path], GitFolder]:
    """Drives a repository that is there already, such as a clone."""
    return GitFolder.at
