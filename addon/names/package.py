"""Where this extension lies, and what Blender calls it."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
EXTENSION = __package__.rpartition(".addon")[0]
