"""One file a schema version; a file that has been released is never changed."""
