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

Code that makes its client itself takes a session, which leads every address to the fake service:

    client = Client("https://wattpair.example", session=fake.session())

Where answers and refusals do not matter, `unittest.mock.create_autospec(Client, instance=True)` has all methods with their
arguments.
"""

from wattpair.testing.fake_service import FakeCall, FakeService

__all__ = ["FakeCall", "FakeService"]
