"""The version that every answer names; a test holds it equal to the package's."""

ENGINE_VERSION = "0.1.0"
