-- Cars by what their newest night draws over its allowance, the worst first, as the page of all nights has them.
WITH ranked AS (
  SELECT *, coalesce(asleep_mean_mA, mean_mA) AS draw_mA, wakeups * 86400.0 / duration_s AS wakeups_per_day,
    row_number() OVER (PARTITION BY workshop, car ORDER BY verdict = 'short', start DESC NULLS LAST, capture) AS place,
    count(*) OVER (PARTITION BY workshop, car) AS count
  FROM nights)
SELECT workshop, car, count, capture, verdict, asleep_level_mA, draw_mA, allowance_mA, wakeups_per_day
FROM ranked WHERE place = 1 ORDER BY verdict = 'short', draw_mA / greatest(allowance_mA, 1e-9) DESC, capture;
