"""No test stands here: the rooms of this folder need the extra `mutation` and are run by hand."""

collect_ignore_glob = ["*.py"]
