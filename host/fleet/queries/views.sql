-- The tree as two tables; run from within its folder.
CREATE OR REPLACE VIEW nights AS SELECT * FROM read_parquet('nights/**/*.parquet', hive_partitioning = true, hive_types_autocast = false);
CREATE OR REPLACE VIEW families AS SELECT * FROM read_parquet('families/**/*.parquet', hive_partitioning = true, hive_types_autocast = false);
