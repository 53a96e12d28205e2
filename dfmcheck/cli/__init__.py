"""The command line: arguments, progress, exit status; nothing else."""
