-- Cars by their mean draw asleep and awake, the hungriest first.
SELECT workshop, car, count(*) AS nights, sum(total_mAh) / (sum(duration_s) / 3600) AS mean_mA, max(asleep_level_mA) AS asleep_level_mA_max
FROM nights GROUP BY workshop, car ORDER BY mean_mA DESC, workshop, car LIMIT 50;
