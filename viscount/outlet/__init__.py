"""Outlet and part files: the machine and what falls, from strict YAML to checked models."""

from viscount.outlet.keys import unit_of
from viscount.outlet.loading import (
    as_yaml,
    given_keys,
    load_outlet,
    load_part,
    outlet_with,
)
from viscount.outlet.marks import in_file, marked_outlet, marked_part
from viscount.outlet.part import Part, Shape
from viscount.outlet.picture import lamp_in_picture, line_in_picture, region_in_picture
from viscount.outlet.settings import (
    BeamSettings,
    Box,
    CameraSettings,
    DetectorSettings,
    GateSettings,
    MotionKind,
    MotionSettings,
    Outlet,
    Readout,
    ViewSettings,
)
from viscount.outlet.taught import Taught
from viscount.outlet.template import json_schema, outlet_template

__all__ = [
    "BeamSettings",
    "Box",
    "CameraSettings",
    "DetectorSettings",
    "GateSettings",
    "MotionKind",
    "MotionSettings",
    "Outlet",
    "Part",
    "Readout",
    "Shape",
    "Taught",
    "ViewSettings",
    "as_yaml",
    "given_keys",
    "in_file",
    "json_schema",
    "lamp_in_picture",
    "line_in_picture",
    "load_outlet",
    "load_part",
    "marked_outlet",
    "marked_part",
    "outlet_template",
    "outlet_with",
    "region_in_picture",
    "unit_of",
]
