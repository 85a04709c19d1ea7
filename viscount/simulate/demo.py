"""The scenario shown first: a two-person workshop packs kits for a plant stand.

Each kit takes 24 cylinder-head screws M4x12. They stand end to end in a tube above a gate, and
slide out of it as one column.
"""

from viscount.simulate.scene import (
    Beam,
    Camera,
    Column,
    FreeFall,
    Lanes,
    Scene,
    Screw,
    Turning,
    View,
)

M4X12 = Screw(
    name="M4x12 ISO 4762",
    overall_length_mm=16.0,
    head_diameter_mm=7.0,
    head_height_mm=4.0,
    shank_diameter_mm=4.0,
)


def demo_scene(seed: int = 1) -> Scene:
    """Return the pour of one bag: 24 screws at 120 frames per second, with a beam beside.

    A column of pitch 16 mm that slides at a quarter of gravity parts into intervals that shrink
    from about 47 to 12 ms at the lip.
    """
    return Scene(
        name="plant-stand kit, M4x12 screws",
        seed=seed,
        parts=(M4X12,),
        release=Column(count=24, pitch_mm=16.0, acceleration_mm_s2=2500.0, jitter_ms=0.1),
        motion=FreeFall(drag_per_m=0.02),
        lanes=Lanes(spread_mm=0.5, drift_spread_mm_s=4.0),
        turning=Turning(angle_spread_deg=1.5, spin_spread_deg_s=15.0),
        view=View(width_px=160, height_px=480, scale_px_per_mm=4.0, lip_px=-120.0, line_px=300.0),
        camera=Camera(
            fps=120.0,
            exposure_us=200.0,
            noise=2.0,
            background_grey=190.0,
            part_grey=40.0,
            blur_px=0.6,
        ),
        beam=Beam(
            below_lip_mm=20.0,
            width_mm=1.0,
            offset_s=0.35,
            drift_ppm=20.0,
            operate_us=20.0,
            release_us=30.0,
        ),
        lead_in_s=0.5,
        tail_s=0.25,
    )
