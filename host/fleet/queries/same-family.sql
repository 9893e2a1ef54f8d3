-- Wake-ups that several cars of a type have in common: alike in length and period, within a quarter of a doubling.
SELECT car_type, round(4 * log2(duration_s)) AS length_class, round(4 * log2(period_s)) AS period_class, count(DISTINCT car) AS cars,
  median(duration_s) AS duration_s, median(period_s) AS period_s, median(charge_mAh) AS charge_mAh
FROM families WHERE car_type IS NOT NULL AND period_s > 0 AND duration_s > 0
GROUP BY ALL HAVING count(DISTINCT car) > 1 ORDER BY cars DESC, car_type, length_class, period_class;
