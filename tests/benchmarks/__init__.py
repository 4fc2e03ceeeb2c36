"""How fast the service is. Its package comes first: it sets one thread for sums before numpy is there, as in the service."""

import wattpair_service  # noqa: F401  # for what its import sets
