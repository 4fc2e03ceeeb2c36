"""One call for each of many roofs: tables in and out, a file of what has been answered, and the run itself."""
