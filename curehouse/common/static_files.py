"""Static files under names that carry their content, so that a browser may keep them for ever."""

from typing import ClassVar

from whitenoise.storage import CompressedManifestStaticFilesStorage

# Of no use to a running house: source maps, the second documentation page, the browsable API.
NOT_COLLECTED = ["*.map", "redoc", "rest_framework", "*.LICENSE.txt"]


class HashedStaticFiles(CompressedManifestStaticFilesStorage):
    """Whitenoise's storage, strict once files have been collected.

    Before that (tests, `runserver`) names stay plain. References are followed in style sheets
    only: the one in a script that Django knows is to its source map, which isn't collected.
    """

    patterns: ClassVar = tuple(
        (glob, rules) for glob, rules in CompressedManifestStaticFilesStorage.patterns if glob == "*.css"
    )

    def stored_name(self, name: str) -> str:
        """Return *name* with its hash."""
        if not self.hashed_files:
            return name
        return super().stored_name(name)
