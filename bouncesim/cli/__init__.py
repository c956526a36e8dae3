"""The command line: one file a command. Each imports only click at its top and what it needs when it runs, so that help comes at once."""
