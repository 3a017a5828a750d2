-- A sensor from day to day. ?1: its ROM code; ?2: most days, and how far back from its last run.
WITH it AS (SELECT id FROM sensor WHERE rom = ?1),
last AS (
    SELECT run.started_us AS us FROM sensor_in_run JOIN run ON run.id = run
    WHERE sensor = (SELECT id FROM it) ORDER BY run DESC LIMIT 1
)
SELECT * FROM (
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
        avg(neighbours.value),
        avg((SELECT value FROM figure WHERE figure.run = run.id AND figure.kind = 'conversion-time'
             AND figure.subject BETWEEN ?1 AND ?1 || '@9' ORDER BY subject LIMIT 1))
    FROM run INDEXED BY run_by_time
    CROSS JOIN sensor_in_run ON sensor_in_run.run = run.id AND sensor = (SELECT id FROM it)
    LEFT JOIN figure AS neighbours
        ON neighbours.run = run.id AND neighbours.kind = 'from-neighbours' AND neighbours.subject = ?1
    WHERE run.started_us > (SELECT us FROM last) - ?2 * 86400000000
    GROUP BY day
    ORDER BY day DESC
    LIMIT ?2
)
ORDER BY 1;
