"""The command line: reads arguments, calls `harvest.service`, prints. Nothing is worked out here."""
