"""`python -m wattpair_service` is the same as `wattpair-service`."""

from wattpair_service.cli import main

raise SystemExit(main())
