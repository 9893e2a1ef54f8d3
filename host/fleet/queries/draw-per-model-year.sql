-- The level asleep for each model year.
SELECT model_year, count(DISTINCT car) AS cars, count(*) AS nights, median(asleep_level_mA) AS asleep_level_mA, quantile_cont(asleep_level_mA, 0.9) AS asleep_level_mA_p90
FROM nights WHERE model_year IS NOT NULL AND asleep_level_mA IS NOT NULL GROUP BY model_year ORDER BY model_year;
