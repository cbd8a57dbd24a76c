"""The command line: one module per subcommand. Parses, calls, prints - no mechanics, no file formats."""
