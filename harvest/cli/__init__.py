"""The command line: reads arguments, calls `harvest.service`, prints; works nothing out."""
