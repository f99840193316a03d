"""Static files under names that carry their content, so that a browser may keep them for ever."""

from typing import ClassVar

from whitenoise.storage import CompressedManifestStaticFilesStorage  # type: ignore[import-untyped]  # it ships no types

# Of no use to a running house: source maps, the second documentation page, the browsable API.
NOT_COLLECTED = ["*.map", "redoc", "rest_framework", "*.LICENSE.txt"]


class HashedStaticFiles(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    """Whitenoise's storage, strict once files have been collected.

    Before that (tests, `runserver`) names stay plain. References to source maps, which aren't
    collected, are left as they are.
    """

    patterns: ClassVar = tuple(
        (glob, tuple(rule for rule in rules if "sourceMappingURL" not in str(rule)))
        for glob, rules in CompressedManifestStaticFilesStorage.patterns
    )

    def stored_name(self, name: str) -> str:
        """Return *name* with its hash."""
        if not self.hashed_files:
            return name
        return str(super().stored_name(name))
