"""Real git repositories in temporary folders, cut off from the user's own configuration."""

from git_fixtures import git_at, make_repo, own_git, repo

__all__ = ["git_at", "make_repo", "own_git", "repo"]
