"""Read a file as text, whatever it was saved as."""

from pathlib import Path

import polars as pl

from wornby.errors import RecordError
from wornby.records.layout import FileLayout

HEADER_ROWS = 1
ROW = "number of the row"


def load_text(folder: Path, layout: FileLayout) -> pl.DataFrame:
    """Every row of the layout's files as text under our column names, with file and row.

    `row` counts as a spreadsheet does: the header is row 1. Nothing is interpreted yet;
    blank cells and the layout's `missing` texts are null.
    """
    return pl.concat(_one_file(path, layout) for path in _paths(folder, layout))


def header_names(folder: Path, layout: FileLayout) -> list[str]:
    """The headers of the layout's file; of the first, where it has several."""
    return _read_cells(_paths(folder, layout)[0], layout).columns


def _paths(folder: Path, layout: FileLayout) -> list[Path]:
    try:
        paths = sorted(p for p in folder.glob(layout.path) if p.is_file())
    except (ValueError, NotImplementedError):
        raise RecordError(
            f"layout.toml: path = {layout.path!r}: wanted a file in the folder, or a pattern"
        ) from None
    if not paths:
        raise RecordError(
            f"{layout.path}: no such file in {folder}; put it there or mend `path` in layout.toml"
        )
    return paths


def _one_file(path: Path, layout: FileLayout) -> pl.DataFrame:
    theirs = _read_cells(path, layout)
    _need_columns(path, theirs, layout)
    if theirs.is_empty():
        raise RecordError(f"{path.name}: has a header but no rows; export it again")
    written = [_as_written(name, layout) for name in theirs.columns]
    numbered = theirs.select(written).with_row_index(ROW, offset=HEADER_ROWS + 1)
    ours = [
        pl.concat_str([ROW if n == "row" else n for n in names], separator="-").alias(name)
        for name, names in layout.columns.items()
    ]
    constants = [pl.lit(value).alias(name) for name, value in layout.constants.items()]
    wanted = pl.lit(True) if layout.only_where is None else pl.col(layout.only_where).is_not_null()
    return numbered.select(
        pl.lit(path.name).alias("file"),
        pl.col(ROW).cast(pl.Int64).alias("row"),
        wanted.alias("wanted"),
        *ours,
        *constants,
    )


def _as_written(name: str, layout: FileLayout) -> pl.Expr:
    text = pl.col(name).cast(pl.String).str.strip_chars()
    return pl.when(~text.is_in(["", *layout.missing])).then(text).alias(name)


def _read_cells(path: Path, layout: FileLayout) -> pl.DataFrame:
    kind = path.suffix.lower()
    try:
        if kind == ".parquet":
            return pl.read_parquet(path)
        if kind == ".xlsx":
            return _read_sheet(path, layout)
        return _read_csv(path, layout)
    except pl.exceptions.NoDataError:
        raise RecordError(f"{path.name}: is empty; export it again") from None
    except (pl.exceptions.PolarsError, UnicodeError) as error:
        reason = str(error).splitlines()[0]
        raise RecordError(
            f"{path.name}: cannot be read with encoding {layout.encoding!r} and separator "
            f"{layout.separator!r}: {reason}; mend them in layout.toml, or export the file again "
            "with quotes around cells that hold a separator"
        ) from None


def _read_csv(path: Path, layout: FileLayout) -> pl.DataFrame:
    utf_8 = layout.encoding.lower() in ("utf-8", "utf8")
    source = path if utf_8 else path.read_text(encoding=layout.encoding).encode()
    frame = pl.read_csv(source, separator=layout.separator, infer_schema=False)
    return _plain_headers(path, frame)


def _plain_headers(path: Path, frame: pl.DataFrame) -> pl.DataFrame:
    """Header cells without spaces around them; two alike cannot be told apart."""
    names = [
        name.strip().lstrip("\ufeff") or f"no header {n}" for n, name in enumerate(frame.columns, 1)
    ]
    twice = [name for name in names if "_duplicated_" in name or names.count(name) > 1]
    if twice:
        raise RecordError(
            f"{path.name}: the header {twice[0].split('_duplicated_')[0]!r} stands twice; give "
            "each column its own"
        )
    return frame.rename(dict(zip(frame.columns, names, strict=True)))


def _read_sheet(path: Path, layout: FileLayout) -> pl.DataFrame:
    import fastexcel

    try:
        book = fastexcel.read_excel(path)
        sheet = layout.sheet or book.sheet_names[0]
        if sheet not in book.sheet_names:
            names = ", ".join(book.sheet_names)
            raise RecordError(f"{path.name}: no sheet {sheet!r}; it has {names}")
        return book.load_sheet(sheet, dtypes="string").to_polars()
    except fastexcel.FastExcelError as error:
        reason = str(error).splitlines()[0]
        raise RecordError(f"{path.name}: cannot be read as XLSX: {reason}") from None


def _need_columns(path: Path, frame: pl.DataFrame, layout: FileLayout) -> None:
    wanted = {name: ours for ours, names in layout.columns.items() for name in names}
    if layout.only_where is not None:
        wanted.setdefault(layout.only_where, "only_where")
    for name, ours in wanted.items():
        if name not in [*frame.columns, "row"]:
            raise RecordError(
                f"{path.name}: no column {name!r} (layout.toml wants it for {ours}); "
                f"it has {', '.join(frame.columns)}"
            )
