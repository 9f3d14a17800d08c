"""What a workshop and a state share: one file each, and a check of their shapes and ranges."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from ..errors import DataError

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]
Texts = NDArray[np.str_]
Days = NDArray[np.datetime64]


class Arrays:
    """A frozen dataclass of plain arrays that can be written to one file and read back."""

    def save(self, path: Path) -> None:
        """Write every field to one .npz file; texts and days are kept, nothing is pickled."""
        content: dict[str, Any] = {field.name: np.asarray(getattr(self, field.name)) for field in fields(self)}  # type: ignore[arg-type]
        with path.open("wb") as stream:
            np.savez(stream, **content)

    @classmethod
    def load(cls, path: Path) -> Self:
        """Read what `save` wrote.

        Raises
        ------
        DataError
            When the file cannot be read or lacks a field.
        """
        try:
            with np.load(path, allow_pickle=False) as stored:
                return cls(**{field.name: _plain(stored[field.name]) for field in fields(cls)})  # type: ignore[arg-type]
        except (OSError, KeyError, ValueError) as error:
            raise DataError("this stored workshop cannot be read", where=path.name, found=error, to_do="delete it and run again") from error


def _plain(value: NDArray[Any]) -> Any:
    return value if value.ndim else value[()] if value.dtype.kind == "M" else value.item()


def check_shapes(owner: Any, sizes: dict[str, int], shapes: dict[str, str]) -> None:
    """Refuse arrays of `owner` whose axes do not have the lengths in `sizes`; axis D may be 1 or one common number of rows."""
    rows = {len(getattr(owner, name)) for name, axes in shapes.items() if axes.startswith("D")} - {1}
    for name, axes in shapes.items():
        shape = np.shape(getattr(owner, name))
        want = tuple(shape[0] if axis == "D" and shape else sizes.get(axis, -1) for axis in axes.split())
        if shape != want or (axes.startswith("D") and (shape[0] == 0 or len(rows) > 1)):
            raise DataError(f"the field {name} does not fit the rest of the workshop", found=shape, allowed=f"axes {axes}: {want}")


def check_range(owner: Any, names: tuple[str, ...], low: float, high: float) -> None:
    """Refuse numbers of the fields `names` outside `low` to `high`, NaN among them."""
    for name in names:
        value = np.asarray(getattr(owner, name))
        if value.size and not ((value >= low) & (value <= high)).all():
            worst = value.flat[int(np.argmax(~((value >= low) & (value <= high))))]
            raise DataError(f"a number of {name} is outside what it may be", found=worst, allowed=f"{low:g} to {high:g}")
