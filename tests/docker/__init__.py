"""What stands in docker/: images, compose, Kubernetes, the lock and the licences."""
