"""The command line: `backing make`, `backing look`, `backing tunes`, `backing styles`.

The only place that prints: data to stdout, talk to stderr.  Exit codes: 0 done, 1 a
fault in what was given, 2 a command that is not understood, 130 Ctrl-C.
"""
