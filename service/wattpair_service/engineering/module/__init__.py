"""A module's curve, its cell temperature, and its DC side on a face."""
