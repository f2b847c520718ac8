"""Every file in and out, and every process that is started."""
