"""Change files: steps that turn the text of one circuit into the text of another."""
