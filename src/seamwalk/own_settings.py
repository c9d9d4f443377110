"""The settings that a command begins with, checked before any work."""

from dataclasses import replace
from pathlib import Path

from seamwalk.errors import MotifError, SettingsError, UsageError
from seamwalk.files.settings_file import SettingsFile, load
from seamwalk.files.settings_schema import THROAT_LIMITS
from seamwalk.model.machine import MachineProfile
from seamwalk.model.settings import OwnSettings
from seamwalk.units import Units, parse_length_between


def load_checked(file: Path | None) -> SettingsFile:
    """Return the settings in a file, or in the person's own, once every wish names a motif.

    Raises
    ------
    SettingsError
        If the file cannot be read, or says something that is not understood.
    """
    from seamwalk.motifs.wish import read_motif

    found = load(file)
    for wish in found.settings.motifs:
        try:
            read_motif(wish, found.settings.units)
        except (MotifError, UsageError) as error:
            raise SettingsError(
                f"{found.place('motifs')}: motifs: {error.seen}", error.advice
            ) from None
    return found


def own_settings(file: Path | None, units: Units | None = None) -> OwnSettings:
    """Return the settings of a file, or her own, in the units of this run.

    Parameters
    ----------
    units : {"in", "cm"}, optional
        Asked for on the command line, or those of the top; the settings' own without it.

    Raises
    ------
    SettingsError
        If the file cannot be read, or says something that is not understood.
    """
    from seamwalk.motifs.wish import read_motif, written

    own = load_checked(file).settings
    # Bare numbers in the file are in the file's units, so from here on wishes say theirs.
    motifs = (written(*read_motif(wish, own.units), own.units) for wish in own.motifs)
    return replace(own, units=units or own.units, motifs=tuple(motifs))


def machine_of(own: OwnSettings, throat: str | None) -> MachineProfile:
    """Return her machine, with the throat that was typed.

    Raises
    ------
    UsageError
        If that is no length, or not one that a machine has.
    """
    if throat is None:
        return own.machine
    try:
        throat_in = parse_length_between(throat, *THROAT_LIMITS, default=own.units)
    except UsageError as error:
        raise UsageError(f"--throat: {error.seen}", error.advice) from None
    return replace(own.machine, throat_in=throat_in)
