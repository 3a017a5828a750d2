-- A sensor from day to day. ?1: its ROM code; ?2: most days, and how far back from its last run.
WITH it AS (SELECT id FROM sensor WHERE rom = ?1),
last AS (
    SELECT run.started_us AS us FROM sensor_in_run JOIN run ON run.id = run
    WHERE sensor = (SELECT id FROM it) ORDER BY run DESC LIMIT 1
),
days AS (
    SELECT
        coalesce(run.night, date(run.started_us / 1000000, 'unixepoch')) AS day,
        count(*),
        ?1,
        max(label),
        sum(readings),
        sum(failed),
        sum(doubted),
        sum(mean_millicelsius * (readings - failed - doubted))
            / nullif(sum((readings - failed - doubted) * (mean_millicelsius IS NOT NULL)), 0),
        min(least_sixteenths),
        max(most_sixteenths),
        avg(neighbours.value)
    FROM run INDEXED BY run_by_time
    CROSS JOIN sensor_in_run ON sensor_in_run.run = run.id AND sensor = (SELECT id FROM it)
    LEFT JOIN figure AS neighbours
        ON neighbours.run = run.id AND neighbours.kind = 'from-neighbours' AND neighbours.subject = ?1
    WHERE run.started_us > (SELECT us FROM last) - ?2 * 86400000000
    GROUP BY day
    ORDER BY day DESC
    LIMIT ?2
),
-- Conversion times of each resolution. A sensor whose resolution is fixed has one, without bits.
resolutions AS (
    SELECT
        coalesce(run.night, date(run.started_us / 1000000, 'unixepoch')) AS day,
        CAST(substr(subject, length(?1) + 2) AS INTEGER) AS bits,
        avg(value) AS value
    FROM run INDEXED BY run_by_time
    CROSS JOIN figure ON figure.run = run.id AND figure.kind = 'conversion-time'
        AND subject BETWEEN ?1 AND ?1 || '@9'
    WHERE run.started_us > (SELECT us FROM last) - ?2 * 86400000000
    GROUP BY day, bits
),
-- SQLite takes the value from the row with the maximum (its documentation: SELECT, "bare columns").
conversions AS (SELECT day, value, max(bits) FROM resolutions GROUP BY day)
SELECT days.*, conversions.value FROM days LEFT JOIN conversions USING (day) ORDER BY day;
