"""A service that is not there, for the tests of those who use the client.

`FakeService` answers without a network, records what it was asked, and refuses or breaks on demand. The client in front of it
is the real one: arguments are checked, errors are raised and calls are repeated as with the real service. What it answers by
itself are the real service's answers to the examples of the contract, whatever was asked; whether a request makes sense, only
the real service knows.

    from wattpair.testing import FakeService

    fake = FakeService()
    with fake.client() as client:
        quote = my_quote(client)
    assert fake.calls[0].operation == "size_pairings"

    fake.refuse("size_pairings", 503, times=1)
"""

from wattpair.testing.fake_service import FakeCall, FakeService

__all__ = ["FakeCall", "FakeService"]
