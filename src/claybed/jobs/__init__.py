"""Work in a child process that can be limited and cancelled."""
