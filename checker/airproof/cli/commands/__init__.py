"""The commands, one a file.  Nothing heavy is imported until a command is run."""
