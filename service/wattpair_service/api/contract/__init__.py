"""The OpenAPI description, written from operations and schemas."""
