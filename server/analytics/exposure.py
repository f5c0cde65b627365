"""Radiated power, for a first look at exposure only (docs/definitions.md, radiated power)."""


def eirp_w(power_w: float, feeder_loss_db: float, antenna_gain_dbi: float) -> float:
    """Equivalent isotropically radiated power, watts: the power supplied to the antenna times its gain relative to an
    isotropic one (Radio Regulations 1.161, from memory).
    """
    return float(power_w * 10 ** ((antenna_gain_dbi - feeder_loss_db) / 10))
