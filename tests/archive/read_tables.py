"""Reads the tables that `archive export --as parquet` writes with another engine, as JSON.

`read_tables.py FOLDER ENGINE`, where ENGINE is `duckdb` or `pyarrow`.
"""

import datetime
import json
import sys

folder, engine = sys.argv[1:]


def with_duckdb(table):
    import duckdb

    files = f"{folder}/{table}/*/*/*/*.parquet"
    source = f"read_parquet('{files}', hive_partitioning = true)"
    database = duckdb.connect()
    database.execute("set timezone = 'UTC'")
    described = database.execute(f"describe select * from {source}").fetchall()
    types = {name: kind.lower() for name, kind, *_ in described}
    answer = database.execute(f"select * from {source} where year = 2026 order by bench, number")
    names = [column[0] for column in answer.description]
    rows = [dict(zip(names, row)) for row in answer.fetchall()]
    return {"types": types, "rows": rows, "more": summed(database, source, table)}


def summed(database, source, table):
    """What an engine works out by itself, lists taken apart."""
    if table != "traces":
        return None
    asked = f"""
        select number, trace, count(*), max(reading_nm) - min(reading_nm)
        from (select number, trace, unnest(reading_nm) as reading_nm from {source})
        group by number, trace order by number, trace"""
    return database.execute(asked).fetchall()


def with_pyarrow(table):
    import pyarrow.compute
    import pyarrow.dataset

    # Where a partition's kind is not said, some engines take months for words.
    data = pyarrow.dataset.dataset(f"{folder}/{table}", format="parquet", partitioning="hive")
    types = {field.name: str(field.type) for field in data.schema}
    rows = data.to_table(filter=pyarrow.compute.field("year") == 2026)
    rows = rows.sort_by([("bench", "ascending"), ("number", "ascending")]).to_pylist()
    return {"types": types, "rows": rows, "more": None}


def plain(value):
    if isinstance(value, bytes):
        return value.hex()
    if isinstance(value, datetime.datetime):
        return value.astimezone(datetime.timezone.utc).isoformat()
    raise TypeError(type(value))


read = {"duckdb": with_duckdb, "pyarrow": with_pyarrow}[engine]
json.dump({table: read(table) for table in ("traces", "characteristics")}, sys.stdout, default=plain)
