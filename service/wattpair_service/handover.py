"""What the worker tells the application of a request, in its WSGI environment."""

ARRIVED_S = "wattpair.arrived_s"
"""When the request was there whole (`time.monotonic`): what follows is the service's time and not the client's."""
CLAIM = "wattpair.claim"
"""Says whether the answer may still be given. False: it came too late, and the worker has told the client so."""
AFTER_SENDING = "wattpair.after_sending"
"""A list; what is put into it is called once the answer has been sent."""
