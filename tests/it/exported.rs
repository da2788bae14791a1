//! The record for other programs: Parquet as polars and DuckDB read it, shots as lines and rows.

use crate::{pages::filled, staging::Folder};
use serde_json::Value;
use std::{
    path::{Path, PathBuf},
    process::{Command, Output},
};

fn export(folder: &Folder, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stillcloth"));
    command.current_dir(&folder.0).arg("export").args(arguments).output().unwrap()
}

fn told(output: Output) -> String {
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

/// A record of two attempts, of 3 and 17 balls.
fn recorded(name: &str) -> Folder {
    let folder = Folder::new(name);
    filled(&folder.0.join("data"), |played| played.attempt == 2 && played.over);
    folder
}

/// Where the Python packages of the tests lie.
fn packages() -> PathBuf {
    let packages = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/python");
    assert!(
        packages.is_dir(),
        "{} is not there: `make target/python` fetches polars and DuckDB, and so does `make test`",
        packages.display()
    );
    packages
}

fn python(folder: &Folder, script: &str) -> Value {
    let mut command = Command::new("python3");
    command.current_dir(&folder.0).env("PYTHONPATH", packages()).args(["-c", script]);
    serde_json::from_str(&told(command.output().unwrap())).unwrap()
}

#[test]
fn polars_and_duckdb_read_all_three_tables() {
    let folder = recorded("parquet");
    for what in ["rests", "shots", "attempts"] {
        let file = format!("{what}.parquet");
        told(export(&folder, &[what, "--format", "parquet", "--out", &file]));
    }
    let by_polars = python(
        &folder,
        r#"
import json, polars as pl
rests, shots, attempts = (pl.read_parquet(f"{t}.parquet") for t in ("rests", "shots", "attempts"))
balls = rests.explode("balls").unnest("balls")
print(json.dumps({
    "rests": rests.height, "balls": balls.height, "cue": balls.filter(pl.col("kind") == "cue").height,
    "x": balls["x"].sum(), "numbers": balls["number"].null_count(),
    "runs": attempts["run"].to_list(), "cause": attempts["cause"].to_list(),
    "missed": shots.filter(pl.col("potted") == 0).height, "potted": shots["potted"].sum(),
    "breaks": shots.filter("is_break").height, "zone": str(rests["at"].dtype),
}))"#,
    );
    let by_duckdb = python(
        &folder,
        r#"
import json, duckdb
one = lambda sql: duckdb.sql(sql).fetchall()
balls = "(SELECT unnest(balls, recursive := true) FROM 'rests.parquet')"
print(json.dumps({
    "rests": one("SELECT count(*) FROM 'rests.parquet'")[0][0],
    "balls": one(f"SELECT count(*) FROM {balls}")[0][0],
    "cue": one(f"SELECT count(*) FROM {balls} WHERE kind = 'cue'")[0][0],
    "x": one(f"SELECT sum(x) FROM {balls}")[0][0],
    "numbers": one(f"SELECT count(*) - count(number) FROM {balls}")[0][0],
    "runs": [row[0] for row in one("SELECT run FROM 'attempts.parquet'")],
    "cause": [row[0] for row in one("SELECT cause FROM 'attempts.parquet'")],
    "missed": one("SELECT count(*) FROM 'shots.parquet' WHERE potted = 0")[0][0],
    "potted": int(one("SELECT sum(potted) FROM 'shots.parquet'")[0][0]),
    "breaks": one("SELECT count(*) FROM 'shots.parquet' WHERE is_break")[0][0],
    "zone": str(one("SELECT typeof(\"at\") FROM 'rests.parquet' LIMIT 1")[0][0]),
}))"#,
    );
    let lines = told(export(&folder, &["rests"]));
    let rests: Vec<Value> = lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let balls: Vec<&Value> =
        rests.iter().flat_map(|rest| rest["layout"]["balls"].as_array().unwrap()).collect();
    let x: f64 = balls.iter().map(|ball| ball["x"].as_f64().unwrap()).sum();
    for (reader, read) in [("polars", &by_polars), ("DuckDB", &by_duckdb)] {
        assert_eq!(read["rests"], rests.len(), "{reader}");
        assert_eq!(read["balls"], balls.len(), "{reader}");
        assert_eq!((&read["cue"], &read["numbers"]), (&rests.len().into(), &0.into()), "{reader}");
        assert!((read["x"].as_f64().unwrap() - x).abs() < 1e-6, "{reader} {read}");
        assert_eq!(read["runs"], serde_json::json!([3, 17]), "{reader}");
        assert_eq!(read["cause"], serde_json::json!(["miss", "miss"]), "{reader}");
        assert_eq!((&read["missed"], &read["potted"]), (&2.into(), &20.into()), "{reader}");
        assert_eq!(read["breaks"], 3, "{reader}");
    }
    assert_eq!(by_polars["zone"], "Datetime(time_unit='ms', time_zone='UTC')");
    assert_eq!(by_duckdb["zone"], "TIMESTAMP WITH TIME ZONE");
}

#[test]
fn every_column_is_told_in_the_documentation() {
    let folder = recorded("parquet-columns");
    let doc = include_str!("../../docs/parquet.md");
    for what in ["rests", "shots", "attempts"] {
        told(export(&folder, &[what, "--format", "parquet", "--out", "t.parquet"]));
        let script =
            "import json, polars as pl; print(json.dumps(pl.read_parquet('t.parquet').columns))";
        let section = doc.split(&format!("## {what}: ")).nth(1).unwrap();
        let section = section.split("\n## ").next().unwrap();
        for column in python(&folder, script).as_array().unwrap() {
            let column = column.as_str().unwrap();
            assert!(section.contains(&format!("`{column}`")), "{what}.{column} is not told");
        }
    }
}

#[test]
fn shots_are_told_as_lines_and_rows_too() {
    let folder = recorded("shot-lines");
    let lines = told(export(&folder, &["shots"]));
    let shots: Vec<Value> = lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    // 3 and 17 balls and a miss each.
    assert_eq!(shots.len(), 22);
    let last = &shots[21];
    assert_eq!(
        (&last["run"], &last["ended"], &last["potted"]),
        (&17.into(), &"miss".into(), &0.into())
    );
    assert_eq!((&shots[0]["is_break"], &shots[1]["place"]), (&true.into(), &1.into()));
    assert!(last["rest_before"].as_i64().unwrap() < last["rest"].as_i64().unwrap());
    assert!(last["at"].as_str().unwrap().ends_with('Z'));
    let table = told(export(&folder, &["shots", "--format", "csv"]));
    assert_eq!(table.lines().count(), 23);
    let refused = export(&folder, &["events", "--format", "parquet"]);
    let said = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(!refused.status.success() && said.contains("rests, shots and attempts"), "{said}");
}
