"""How a request gets to the service and its answer back: options, retries, timeouts, waiting and asynchronous transport."""
