"""Git history: which revisions are compared, which files differ, and their bytes.

Everything goes through the `git` program by GitPython's command interface; nothing from the
repository under test is executed, and its work tree, index and refs are never written.
`dfmcheck.history.repository.Repository` is the way in.
"""
