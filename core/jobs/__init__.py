"""Everything that can be asked for, one file a job: a frozen `Request`, and `run`, which gives a `result.Result`.

Requests are built by the command line and in Blender's own process, where libigl and scipy are not to be loaded: so
`part` and the requests need numpy only, and what a job works with is imported where it runs.
"""
