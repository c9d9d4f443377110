"""``seamwalk benchmark``: speed, memory and accuracy as they come."""

from pathlib import Path
from typing import Annotated

import typer

from seamwalk import terminal
from seamwalk.errors import UsageError

app = typer.Typer(
    help="Measure speed, memory and accuracy, and report the figures as they come.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

Into = Annotated[
    Path | None,
    typer.Option(help="Markdown file whose section of this benchmark is replaced."),
]
Section = Annotated[
    str | None, typer.Option(help="Name of the section, when it is not the usual.")
]

Scenes = Annotated[int, typer.Option(min=1, help="How many scenes.")]
First = Annotated[int, typer.Option(min=0, help="Number of the first scene.")]
Jobs = Annotated[int, typer.Option(min=1, help="Scenes worked on at a time.")]
Keep = Annotated[
    Path | None,
    typer.Option(help="File of results, one a line; those in it are not done again."),
]


def _deliver(table: str, into: Path | None, section: str) -> None:
    from seamwalk.benchmark.tables import machine_line, replace_section

    if into is None:
        terminal.say(table)
        return
    replace_section(into, section, f"\n{table}\n\n{machine_line()}\n")
    terminal.say(f"{into}: section {section} replaced")


@app.command()
def photos(
    folder: Annotated[Path, typer.Argument(help="Photos with truth files beside them.")],
    into: Into = None,
    section: Section = None,
) -> None:
    """Score found patches and sizes on a folder of photos with truth.

    Example: seamwalk benchmark photos sample_images
    """
    from seamwalk.benchmark.photos import score_folder
    from seamwalk.benchmark.tables import photos_table
    from seamwalk.report import progress

    with progress() as stage:
        results = list(score_folder(folder, progress=stage))
    _deliver(photos_table(results), into, section or "photos")


@app.command()
def speed(
    photo: Annotated[list[Path], typer.Argument(help="Photos to plan, each in a fresh process.")],
    into: Into = None,
    section: Section = None,
) -> None:
    """Measure time by stage and peak memory, photo to overlay.

    Example: seamwalk benchmark speed sample_images/nine-patch.jpg
    """
    from seamwalk.benchmark.speed import measure_speed
    from seamwalk.benchmark.tables import speed_table
    from seamwalk.report import progress

    with progress() as stage:
        results = []
        for path in photo:
            stage(path.name)
            results.append(measure_speed(path))
    _deliver(speed_table(results), into, section or "speed")


@app.command()
def motifs(into: Into = None, section: Section = None) -> None:
    """Measure how long each motif takes on a top of 2,000 patches.

    Example: seamwalk benchmark motifs
    """
    from seamwalk.benchmark.motif_speed import motif_speed_table, time_motifs
    from seamwalk.report import progress

    with progress() as stage:
        patches, laying_s, found = time_motifs(progress=stage)
    _deliver(motif_speed_table(patches, laying_s, found), into, section or "motifs")


@app.command()
def sizes(
    scenes: Scenes = 200,
    first: First = 0,
    jobs: Jobs = 2,
    keep: Keep = None,
    plot: Annotated[
        Path | None, typer.Option(help="Picture of the errors (PNG); needs the extra [benchmark].")
    ] = None,
    into: Into = None,
    section: Section = None,
) -> None:
    """Measure scenes drawn at random and compare sizes with the truth.

    Example: seamwalk benchmark sizes --scenes 20 --jobs 2
    """
    from seamwalk.benchmark.scene_run import run_scenes
    from seamwalk.benchmark.size_scenes import SizeResult, measure_scene
    from seamwalk.benchmark.size_tables import plot_sizes, size_tables
    from seamwalk.report import progress

    with progress() as stage:
        seeds = range(first, first + scenes)
        results = run_scenes(
            seeds, measure_scene, SizeResult.from_json, jobs=jobs, keep=keep, progress=stage
        )
    if plot is not None:
        plot_sizes(results, plot)
    _deliver(size_tables(results), into, section or "sizes")


@app.command()
def seams(
    folder: Annotated[
        Path | None, typer.Argument(help="Photos with truth beside them; without it, scenes.")
    ] = None,
    scenes: Scenes = 72,
    first: First = 0,
    jobs: Jobs = 2,
    keep: Keep = None,
    pictures: Annotated[
        Path | None, typer.Option(help="Folder for pictures of the worst scenes' mistakes.")
    ] = None,
    worst: Annotated[int, typer.Option(min=1, help="How many of them.")] = 6,
    design: Annotated[
        str | None,
        typer.Option(
            help="Design of every scene, like drunkards-path; without it, each straight one."
        ),
    ] = None,
    into: Into = None,
    section: Section = None,
) -> None:
    """Score the seam map seam by seam, on scenes or on a folder of photos with truth.

    Example: seamwalk benchmark seams --scenes 24 --jobs 2
    """
    from functools import partial

    from seamwalk.benchmark.photos import map_folder
    from seamwalk.benchmark.scene_run import run_scenes
    from seamwalk.benchmark.seam_scenes import SeamDrawSettings, kept_result, map_scene
    from seamwalk.benchmark.seam_tables import photo_seam_table, seam_tables
    from seamwalk.report import progress
    from seamwalk.scenes.tops import design_named

    if design is not None and folder is not None:
        raise UsageError(
            "A folder of photos has its own designs.", "Leave out --design or the folder."
        )
    drawn = SeamDrawSettings(design=design_named(design) if design is not None else "")

    with progress() as stage:
        if folder is not None:
            table = photo_seam_table(list(map_folder(folder, progress=stage)))
        else:
            seeds = range(first, first + scenes)
            results = run_scenes(
                seeds,
                partial(map_scene, settings=drawn),
                partial(kept_result, settings=drawn),
                jobs=jobs,
                keep=keep,
                progress=stage,
            )
            table = seam_tables(results)
            if pictures is not None:
                from seamwalk.benchmark.seam_pictures import write_failures

                stage("pictures of the worst")
                for caption in write_failures(results, pictures, worst, drawn=drawn):
                    terminal.say(caption)
    _deliver(table, into, section or "seams")


@app.command()
def routes(
    part: Annotated[
        list[str] | None,
        typer.Option(
            help="speed, first, small, limits, order, resume or others; may be repeated."
        ),
    ] = None,
    most: Annotated[int, typer.Option(min=1, help="Strokes of the largest top.")] = 20_000,
    jobs: Annotated[
        int,
        typer.Option(min=1, help="Routes sought at a time; with more than one, times are off."),
    ] = 1,
    keep: Keep = None,
    pictures: Annotated[
        Path | None, typer.Option(help="Folder for plots (PNG); needs the extra [benchmark].")
    ] = None,
    into: Into = None,
    section: Section = None,
) -> None:
    """Measure paths on made-up tops: time, memory, gap to the bound, and how they sew.

    Example: seamwalk benchmark routes --part first --part speed --most 1000
    """
    from seamwalk.benchmark.route_cases import parts_named, route_cases
    from seamwalk.benchmark.route_run import run_routes
    from seamwalk.benchmark.route_tables import route_tables
    from seamwalk.report import progress

    cases = route_cases(parts_named(part), most)
    links: list[str] = []
    with progress() as stage:
        results = run_routes(cases, jobs=jobs, keep=keep, progress=stage)
        if pictures is not None:
            from seamwalk.benchmark.route_pictures import write_pictures

            stage("plots")
            links = write_pictures(results, pictures, beside=into)
    _deliver("\n\n".join([route_tables(results), *links]), into, section or "routes")
