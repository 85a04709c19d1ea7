"""The scene file: what is simulated, as checked models."""

from viscount.simulate.scene.beam import Beam, Board, Lamp
from viscount.simulate.scene.lamp import LampInView
from viscount.simulate.scene.light import AutoExposure, Light, Pulsed, Step
from viscount.simulate.scene.loading import load_scene
from viscount.simulate.scene.motion import (
    G_MM_S2,
    Belt,
    Bounce,
    Cycle,
    FreeFall,
    Gate,
    Lanes,
    Motion,
    Slide,
    Stuck,
    Turning,
)
from viscount.simulate.scene.part import AnyPart, Ball, Bored, Box, Nut, Part, Screw, Washer
from viscount.simulate.scene.recording import Faults, Recording
from viscount.simulate.scene.release import Clumps, Column, Escapement, Poisson, Release, Times
from viscount.simulate.scene.scene import Scene
from viscount.simulate.scene.surroundings import (
    Bag,
    Blow,
    Dust,
    Feeder,
    Intruder,
    Resting,
    Surroundings,
    Texture,
)
from viscount.simulate.scene.view import Camera, View

__all__ = [
    "G_MM_S2",
    "AnyPart",
    "AutoExposure",
    "Bag",
    "Ball",
    "Beam",
    "Belt",
    "Blow",
    "Board",
    "Bored",
    "Bounce",
    "Box",
    "Camera",
    "Clumps",
    "Column",
    "Cycle",
    "Dust",
    "Escapement",
    "Faults",
    "Feeder",
    "FreeFall",
    "Gate",
    "Intruder",
    "Lamp",
    "LampInView",
    "Lanes",
    "Light",
    "Motion",
    "Nut",
    "Part",
    "Poisson",
    "Pulsed",
    "Recording",
    "Release",
    "Resting",
    "Scene",
    "Screw",
    "Slide",
    "Step",
    "Stuck",
    "Surroundings",
    "Texture",
    "Times",
    "Turning",
    "View",
    "Washer",
    "load_scene",
]
