"""Results as data that JSON can hold."""

from dataclasses import fields, is_dataclass
from datetime import datetime
from enum import Enum
from typing import Any

import numpy as np

from fairsmoke.messages.message import Listed, Message, Sentence


def plain(value: object) -> Any:
    """Return dataclasses, enums, times and arrays as what JSON can hold; NaN becomes None."""
    if isinstance(value, Message | Listed | Sentence):
        return str(value)
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, dict):
        return {str(plain(key)): plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [plain(one) for one in value]
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, float | np.floating):
        return float(value) if np.isfinite(value) else None
    return value
