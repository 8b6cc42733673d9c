"""Write the service's OpenAPI description, from which `npm run generate` makes its types."""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path

from letterply.api.app import create_app
from letterply.api.settings import Settings


def description() -> str:
    """Return it; nothing is started for it."""
    with tempfile.TemporaryDirectory() as folder:
        app = create_app(Settings(data_folder=Path(folder)))
    return json.dumps(app.openapi(), indent=1, ensure_ascii=False, sort_keys=True)


if __name__ == "__main__":
    sys.stdout.write(description())
