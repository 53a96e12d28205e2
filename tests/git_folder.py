"""Real git repositories in temporary folders, cut off from the user's own configuration."""

import os
import subprocess
from pathlib import Path

CI_VARIABLES = ("CI", "GITHUB_ACTIONS", "GITHUB_EVENT_NAME", "GITHUB_EVENT_PATH", "GITLAB_CI")


class GitFolder:
    """A repository driven by the git program itself, with dates that go up by an hour a commit."""

    def __init__(self, path: Path, *options: str) -> None:
        self.path = path
        self.clock = 1_773_500_000  # 14 Mar 2026, 14:53:20 UTC
        path.mkdir(parents=True, exist_ok=True)
        self.git("init", "--quiet", "--initial-branch=main", *options)

    @classmethod
    def at(cls, path: Path) -> "GitFolder":
        """A repository that is there already."""
        folder = cls.__new__(cls)
        folder.path, folder.clock = path, 1_783_500_000
        return folder

    def git(self, *arguments: str | bytes, stdin: bytes = b"", **variables: str) -> str:
        """Run git here; what it prints."""
        self.clock += 3600
        date = f"{self.clock} +0100"
        done = subprocess.run(
            ["git", *arguments],
            cwd=self.path,
            input=stdin,
            capture_output=True,
            env={**os.environ, "GIT_AUTHOR_DATE": date, "GIT_COMMITTER_DATE": date, **variables},
            check=False,
        )
        if done.returncode:
            msg = f"git {arguments}: {done.stderr.decode(errors='replace')}"
            raise AssertionError(msg)
        return (done.stdout + done.stderr).decode("utf-8", "surrogateescape").rstrip("\n")

    def write(self, path: str | bytes, content: str | bytes) -> Path:
        """Write a file of the work tree."""
        place = Path(os.fsdecode(os.path.join(os.fsencode(self.path), os.fsencode(path))))  # noqa: PTH118 - bytes
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(content.encode() if isinstance(content, str) else content)
        return place

    def commit(self, message: str = "change", **files: str | bytes) -> str:
        """Commit everything, after writing files given as keywords; the commit's id."""
        for path, content in files.items():
            self.write(path, content)
        self.git("add", "--all")
        self.git("commit", "--quiet", "--allow-empty", "--message", message)
        return self.id()

    def put(self, path: str | bytes, content: str | bytes, message: str = "change") -> str:
        """Write one file and commit everything."""
        self.write(path, content)
        return self.commit(message)

    def id(self, name: str = "HEAD") -> str:
        """The id of a revision."""
        return self.git("rev-parse", "--verify", name)

    def state(self) -> dict[str, object]:
        """All that must not change: index, refs, configuration, work tree with its times."""
        files = {
            str(p.relative_to(self.path)): (p.lstat().st_mtime_ns, p.lstat().st_size)
            for p in sorted(self.path.rglob("*"))
            if not p.is_dir()
        }
        return {
            "files": files,
            "refs": self.git("for-each-ref"),
            "head": self.git("rev-parse", "--all"),
        }
