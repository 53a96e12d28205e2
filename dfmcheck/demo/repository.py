"""A git repository made commit by commit, with the same object names at every run."""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from git import Actor, Repo
from git.exc import GitError

from dfmcheck.errors import UsageError


@contextmanager
def own_environment() -> Iterator[None]:
    """Without git's own variables, which in a hook point to another repository.

    The template is empty: no hooks of the user's are copied into the demo.
    """
    kept = {k: v for k, v in os.environ.items() if k.startswith("GIT_")}
    for name in kept:
        del os.environ[name]
    os.environ["GIT_TEMPLATE_DIR"] = ""
    try:
        yield
    finally:
        del os.environ["GIT_TEMPLATE_DIR"]
        os.environ.update(kept)


class DemoRepository:
    """A new repository on branch `main`; neither hooks nor the user's settings touch it."""

    def __init__(self, folder: Path) -> None:
        """Make it, inside `own_environment`.

        Raises:
            UsageError: git is missing, too old, or may not write there.
        """
        self.folder = folder
        try:
            self._repo = Repo.init(folder, mkdir=True, initial_branch="main", object_format="sha1")
        except (GitError, OSError) as error:
            first = str(error).strip().splitlines()[-1:] or [type(error).__name__]
            msg = f"git cannot make a repository in {folder}: {first[0].strip()}"
            raise UsageError(msg) from error
        with self._repo.config_writer() as config:
            config.set_value("core", "autocrlf", "false")
            config.set_value("commit", "gpgsign", "false")

    @staticmethod
    def last_subject(folder: Path) -> str:
        """First line of the last commit's message of a repository; empty where there is none."""
        try:
            with Repo(folder, search_parent_directories=False) as repo:
                return str(repo.head.commit.message).partition("\n")[0]
        except (GitError, ValueError, OSError):
            return ""

    def write(self, path: str, data: bytes) -> None:
        """Write a file and stage it."""
        target = self.folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
        self._repo.index.add([path])

    def rename(self, before: str, after: str) -> None:
        """Rename a file and stage that."""
        self._repo.index.move([before, after])

    def commit(self, author: tuple[str, str], date: str, message: str) -> str:
        """Commit what is staged and give the commit's name; hooks are not run."""
        actor = Actor(*author)
        moment = datetime.fromisoformat(date)
        stamp = f"{int(moment.timestamp())} {moment:%z}"
        made = self._repo.index.commit(
            message,
            author=actor,
            committer=actor,
            author_date=stamp,
            commit_date=stamp,
            skip_hooks=True,
        )
        return str(made.hexsha)

    def discard(self) -> None:
        """Take away everything in the folder, which was empty before."""
        self.close()
        for child in self.folder.iterdir():
            if child.is_dir() and not child.is_symlink():
                shutil.rmtree(child, ignore_errors=True)
            else:
                child.unlink(missing_ok=True)

    def close(self) -> None:
        """Let go of git's processes."""
        self._repo.close()
