-- From a table of one reading a row, as most databases have it, to the nested form: one visit a row, in DuckDB.
--
--     duckdb -c ".read nest.sql" -c "COPY nested TO 'visits.parquet'"
--
-- Change the names on the left of AS, and what a row has beside them; the names on the right stay. What is not known is
-- left out. `taken` holds invented readings of two cabins.
CREATE OR REPLACE VIEW taken AS
FROM (
    VALUES
        ('INVENTED cabin-1', 'lake', 1, 'L1', 'L2', 246.0, 'low', 'disconnected', NULL),
        ('INVENTED cabin-1', 'lake', 2, 'L1', 'N', 7.0, 'low', 'disconnected', NULL),
        ('INVENTED cabin-1', 'lake', 3, 'L2', 'N', 6.0, 'low', 'disconnected', NULL),
        ('INVENTED cabin-2', 'hill', 1, 'L1', 'L2', 241.2, 'high', 'running', 4800.0),
        ('INVENTED cabin-2', 'hill', 2, 'L1', 'N', 119.9, 'high', 'running', 4800.0)
) AS t (visit, area, place, first_contact, second_contact, volts, mode, condition, element_watts);

CREATE OR REPLACE VIEW nested AS
SELECT
    visit AS reference,
    {'system': 'split_phase_120_240'} AS supply,
    MAP {
        'high': {'kind': 'voltmeter', 'input_impedance': 10e6},
        'low': {'kind': 'voltmeter', 'input_impedance': 3000.0}
    } AS meters,
    map_from_entries(
        list(DISTINCT {
            'k': condition,
            'v': {
                'kind': condition,
                'loads': CASE
                    WHEN element_watts IS NOT NULL THEN [{'between': ['L1', 'L2'], 'power': element_watts}]
                END
            }
        })
    ) AS load_states,
    list(
        {
            'kind': 'voltage',
            'between': [first_contact, second_contact],
            'value': volts,
            'meter': mode,
            'load_state': condition
        }
        ORDER BY place
    ) AS readings,
    any_value(area) AS region
FROM taken
GROUP BY visit;
