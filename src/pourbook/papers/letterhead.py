"""The picture in the letterhead: a file of the shop's, read, checked and fitted.

Contract: :func:`picture` gives what a paper may carry or refuses, naming the cell of Start that
names the file. It reads PNG and JPEG, no larger than :data:`MOST_BYTES`, and changes no file.
"""

from __future__ import annotations

import io
import warnings
from pathlib import Path

from openpyxl.drawing.image import Image
from openpyxl.utils.units import pixels_to_points
from PIL import Image as Pictures
from PIL import UnidentifiedImageError

from pourbook.errors import InputError

FORMATS = ("PNG", "JPEG")
MOST_BYTES = 5_000_000
_UNREADABLE = (OSError, ValueError, SyntaxError, UnidentifiedImageError)
_MEND = "save it as a PNG or JPEG below 5 MB beside the job, or clear the cell"


def picture(named: str, folder: Path, place: str, *, wide: float, high: float) -> Image:
    """Return the picture, as large as fits.

    Args:
        named: What is typed: the name of a file in the folder, or a whole path.
        folder: Where the job lies.
        place: The cell it is typed in, for a refusal.
        wide: How much room it has across, in points.
        high: How much it has upwards, in points.

    Raises:
        InputError: There is no such file, or it is no picture that can be taken.
    """
    file = folder / named
    try:
        size = file.stat().st_size
        if not file.is_file() or size > MOST_BYTES:
            what = f"Letterhead picture: '{named}' is no file below 5 MB"
            raise InputError(what, _MEND, place)
        content = file.read_bytes()
        with warnings.catch_warnings():
            warnings.simplefilter("error", Pictures.DecompressionBombWarning)
            with Pictures.open(io.BytesIO(content), formats=FORMATS) as found:
                found.load()
                across, up = found.size
    except FileNotFoundError:
        raise InputError(f"Letterhead picture: there is no file '{named}'", _MEND, place) from None
    except (*_UNREADABLE, Pictures.DecompressionBombError, Warning) as error:
        what = f"Letterhead picture: '{named}' cannot be read as a picture"
        raise InputError(what, _MEND, place) from error
    made = Image(io.BytesIO(content))
    scale = min(wide / across, high / up) / pixels_to_points(1)
    made.width, made.height = max(across * scale, 1), max(up * scale, 1)
    return made
