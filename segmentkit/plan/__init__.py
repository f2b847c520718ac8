"""When everything happens, in whole frames. Pure: no files, no arrays."""
