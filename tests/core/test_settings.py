"""Settings: what they take, what they refuse and in which words."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError, fields
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter1d

from core.errors import InputError
from core.settings import _LIMITS, Settings, read_settings

# Defaults: all common practice or from memory.
DEFAULTS = {
    "true_mm": 0.25, "reach_mm": 20.0, "finish_mm": 0.0, "risk": 0.05, "lay_sigma_mm": 0.3,
    "lay_correlation_mm": 12.0, "clean_up_mm": 0.2, "surfacer_mm": 0.10, "margin_mm": 12.7,
    "line_up_uncertainty_mm": 0.05, "new_metal_mm": 10.0, "least_area_mm2": 100.0,
}


def test_the_defaults() -> None:
    assert {name: getattr(Settings(), name) for name in DEFAULTS} == DEFAULTS
    assert Settings().scan_error_mm is None
    assert set(_LIMITS) == {field.name for field in fields(Settings)} - {"material", "surface"}
    assert set(Settings().as_dict()) == {field.name for field in fields(Settings)}


@pytest.mark.parametrize("name", sorted(_LIMITS))
def test_the_ends_are_taken_and_what_lies_beyond_is_refused(name: str) -> None:
    low, high = _LIMITS[name]
    for value in (low, high):
        assert getattr(Settings().changed({name: value}), name) == value
    beyond = (math.nextafter(low, -math.inf), math.nextafter(high, math.inf), -math.inf, math.inf, 10**400, -(10**400))
    for value in beyond:
        with pytest.raises(InputError, match=f"^setting {name}: .* is wanted"):
            Settings().changed({name: value})


@pytest.mark.parametrize("value", ["0.1", True, False, [0.1], {}, math.nan, b"1"])
def test_what_is_no_number_is_refused(value: object) -> None:
    for name in ("risk", "scan_error_mm"):
        with pytest.raises(InputError, match=f"^setting {name}: .* came; a number is wanted"):
            Settings().changed({name: value})


@given(st.floats(0.01, 10.0), st.floats(1e-4, 0.5))
def test_changed_changes_what_is_named_and_nothing_else(true: float, risk: float) -> None:
    found = Settings().changed({"true_mm": true, "risk": risk, "reach_mm": None, "material": None})
    assert found.as_dict() == {**Settings().as_dict(), "true_mm": true, "risk": risk}
    assert Settings() == Settings(**Settings().as_dict())


def test_settings_do_not_change_in_place() -> None:
    with pytest.raises(FrozenInstanceError):
        Settings().risk = 0.5  # type: ignore[misc]


def put(folder: Path, data: bytes) -> Path:
    (folder / "mine.toml").write_bytes(data)
    return folder / "mine.toml"


def test_a_file_of_settings(tmp_path: Path) -> None:
    found = read_settings(put(tmp_path, b'# mine\nrisk = 0.01\nreach_mm = 30\nmaterial = "polyester"\n'))
    assert found == {"risk": 0.01, "reach_mm": 30, "material": "polyester"}
    assert read_settings(put(tmp_path, b"")) == {}
    assert read_settings(put(tmp_path, b"\xef\xbb\xbfrisk = 0.01\r\n")) == {"risk": 0.01}  # as Notepad writes it


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"risk 0.05", "it is not TOML .* write lines like: risk = 0.05"),
        (b"risk = 0,05", "it is not TOML"),
        (b"risk = 0.1\nrisk = 0.2", "it is not TOML"),
        (b"\xff\xfer\0i\0", "it is not TOML"),
        (b"reach_mm = " + b"9" * 5000, "it is not TOML"),
        (b"Risk = 0.1", "there is no setting 'Risk'; there are .*risk"),
        (b"[plan]\nrisk = 0.1", "there is no setting 'plan'"),
        (b"material = 30", "material is a name in quotes"),
    ],
)
def test_a_file_that_cannot_be_used(tmp_path: Path, data: bytes, words: str) -> None:
    with pytest.raises(InputError, match=f"^settings file .*mine.toml: .*{words}") as caught:
        read_settings(put(tmp_path, data))
    assert "\n" not in str(caught.value)


def test_no_file_and_a_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(InputError, match="^settings file .* can't be read"):
            read_settings(path)


def test_bumps_lie_two_pi_correlation_lengths_apart() -> None:
    """Counted on a simulated line of 160 000 mm: white noise smoothed by a Gaussian of l / sqrt 2 has the covariance
    exp(-d^2 / 2 l^2) (convolution of Gaussians, closed form); some 2100 rises through the mean, so 1 % of scatter."""
    for seed, spacing in enumerate((30.0, 75.0)):
        length = Settings().changed({"bump_spacing_mm": spacing}).lay_correlation_mm
        step = length / 10
        noise = np.random.default_rng(seed).standard_normal(round(2100 * spacing / step))
        line = gaussian_filter1d(noise, length / math.sqrt(2) / step, mode="wrap", truncate=6)
        rises = np.count_nonzero((line[:-1] < 0) & (line[1:] >= 0))
        assert len(line) * step / rises == pytest.approx(spacing, rel=0.03)


@given(st.floats(3.2, 1250.0))
def test_a_spacing_of_bumps_is_a_correlation_length_and_back(spacing: float) -> None:
    said = Settings().changed({"bump_spacing_mm": spacing})
    assert said.bump_spacing_mm == pytest.approx(spacing, rel=1e-12)
    assert said == Settings().changed({"lay_correlation_mm": said.lay_correlation_mm})


def test_a_spacing_is_checked_as_itself_and_never_beside_the_length() -> None:
    refused = ((0.0, "0 came; 3.14159 to 1256.64 is wanted"), (2000.0, "2000 came"), ("75", "a number is wanted"))
    for bad, words in refused:
        with pytest.raises(InputError, match=f"^setting bump_spacing_mm: .*{words}"):
            Settings().changed({"bump_spacing_mm": bad})
    with pytest.raises(InputError, match="both came"):
        Settings().changed({"bump_spacing_mm": 75.0, "lay_correlation_mm": 12.0})


def test_a_settings_file_may_say_the_spacing(tmp_path: Path) -> None:
    found = read_settings(put(tmp_path, b"bump_spacing_mm = 50\n"))
    assert Settings().changed(found).bump_spacing_mm == pytest.approx(50)


@pytest.mark.parametrize("bad", ["Bare", "", "painted", 1, True])
def test_a_surface_there_is_none_of_is_refused(bad: object) -> None:
    with pytest.raises(InputError, match="^setting surface: .* one of bare, laid, primed is wanted"):
        Settings().changed({"surface": bad})
