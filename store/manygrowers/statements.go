package manygrowers

// dueAge is how many days before the day of the records the plots of the groups of MakeDue were planted: at the climate
// of the places a first text is then due.
const dueAge = 14

const consentWords = "I want to keep my plots here and get texts about weeding."

// each counts the growers from 0; i+1 is the id of a grower and of the grower's first plot.
const each = `WITH RECURSIVE g(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM g WHERE i + 1 < $growers) `

// ofMakeDue selects the plots of MakeDue: the first plots of every fifth grower. others selects the other plots.
const (
	ofMakeDue = `p.id = p.grower_id AND p.id % 5 = 1`
	others    = `NOT (` + ofMakeDue + `)`
)

// statements fill the tables, parents before children. All rows are in the order in which the years would have written
// them: texts and callbacks by their time.
var statements = []string{
	// The weather came when there were no growers yet: it makes no plot due.
	`DELETE FROM place_look`,
	`INSERT INTO consent_text (version, language, body) VALUES ($version, 'en', $words)`,

	// Every second grower is at the default place, which has the id 1. A hundredth was not heard of for 500 days. Staff
	// gave two of three a name.
	each + `INSERT INTO grower (id, phone, language, place_id, consent_at, consent_text, consent_channel, created_at,
		seen_at, household, has_hours, name, name_key)
	SELECT i + 1, $phones || printf('%06d', i), 'en', CASE i % 2 WHEN 0 THEN 1 ELSE 2 + (i / 2) % $other END,
		$at - 86400 * 700, $version, 'ussd', $at - 86400 * 700,
		$at - 86400 * CASE i % 100 WHEN 99 THEN 500 ELSE 1 + i % 60 END,
		CASE i % 5 WHEN 0 THEN '{"people":2,"tools":1,"hours_a_day":6}' ELSE '' END,
		i % 4 = 2, n, lower(n)
	FROM (SELECT i, CASE i % 3 WHEN 0 THEN '' ELSE
		substr('AnaBenCleDidEvaFinGusHana', 1 + 3 * (i * 7919 % 8), 3) || ' Grower ' ||
			(i * 7919 % 999983) END AS n FROM g)`,
	each + `INSERT INTO consent (grower_id, at, what, text_version, language, channel)
	SELECT i + 1, $at - 86400 * 700, 'given', $version, 'en', 'ussd' FROM g`,

	// The first plot of each grower. The plots of MakeDue were planted dueAge days ago, others 5 to 104 days ago.
	each + `INSERT INTO plot (id, grower_id, no, label, method, planted, puddled, seedling_age_days,
		seedlings_per_hill, row_spacing_cm, hill_spacing_cm, area_m2, flood, duration_days, tool_width_cm,
		tool_max_width_cm, since_day, look_at)
	SELECT i + 1, i + 1, 1, '', 1, $today - CASE i % 5 WHEN 0 THEN $due ELSE 5 + (i / 5) % 100 END, 0, 0, 0,
		CASE i % 3 WHEN 0 THEN 25 ELSE 20 END, CASE i % 3 WHEN 0 THEN 25 WHEN 1 THEN 20 ELSE 30 END,
		400 + 100 * (i % 30), i % 4, 0, 15, 0,
		$today - 4, $at + 86400 * (1 + i % 13)
	FROM g`,
	// A second plot of every tenth grower, and a closed one of the last season of every fourth.
	each + `INSERT INTO plot (grower_id, no, label, method, planted, puddled, seedling_age_days,
		seedlings_per_hill, row_spacing_cm, hill_spacing_cm, area_m2, flood, duration_days, tool_width_cm,
		tool_max_width_cm, since_day, look_at)
	SELECT i + 1, 2, 'far field', 2, $today - 5 - i % 80, 0, 0, 0, 25, 0, 800, 1, 0, 15, 20, $today - 4,
		$at + 86400 * (1 + i % 7)
	FROM g WHERE i % 10 = 8`,
	each + `INSERT INTO plot (grower_id, no, label, method, planted, puddled, seedling_age_days,
		seedlings_per_hill, row_spacing_cm, hill_spacing_cm, area_m2, flood, duration_days, tool_width_cm,
		tool_max_width_cm, since_day, closed_day)
	SELECT i + 1, 1, '', 1, $today - 200 - i % 100, 0, 0, 0, 20, 20, 500, 1, 0, 15, 0, $today - 199 - i % 100,
		$today - 90 - i % 100
	FROM g WHERE i % 4 = 1`,

	// Passes on the 12th and 24th day, a sighting on the 10th, and the texts "prepare" and "open" of the first window.
	`INSERT INTO pass (plot_id, day, seq, means, way, hours, people, weeds_left)
	SELECT id, planted + 12, 1, 1, 1 + id % 2, CASE grower_id % 4 WHEN 3 THEN 4 ELSE 0 END,
		CASE grower_id % 4 WHEN 3 THEN 2 ELSE 0 END, 1 + id % 3
	FROM plot p WHERE ` + others + ` AND planted + 12 < $today AND id % 2 = 1 ORDER BY id`,
	`INSERT INTO pass (plot_id, day, seq, means, way, hours, people, weeds_left)
	SELECT id, planted + 24, 2, 1, 0, 0, 0, 1
	FROM plot p WHERE ` + others + ` AND planted + 24 < $today AND id % 2 = 1 ORDER BY id`,
	`INSERT INTO sighting (plot_id, day, seq, leaves, amount, rows_seen, water)
	SELECT id, planted + 10, 1, 1 + id % 3, 1 + id % 3, 1, id % 5
	FROM plot p WHERE ` + others + ` AND planted + 10 < $today AND id % 3 <> 1 ORDER BY id`,
	`INSERT INTO told (plot_id, window_no, edition, kind, day)
	SELECT p.id, 1, 0, k.kind, p.planted + 6 + 3 * k.kind
	FROM plot p JOIN (SELECT 1 AS kind UNION ALL SELECT 2) k
	WHERE ` + others + ` AND p.planted + 12 < $today ORDER BY p.id, k.kind`,

	// A fifth of the growers ended a dialogue lately.
	each + `INSERT INTO session (phone, channel, network, state, saved_at, expires_at)
	SELECT $phones || printf('%06d', i), 'ussd', '', randomblob(120), $at - 7200 + i % 3600, $at - 3600 + i % 3600
	FROM g WHERE i % 5 = 1`,
	// One reply a grower, of the last six days.
	each + `INSERT INTO callback (gateway, key, phone, reply, at)
	SELECT 'local', 'ussd:' || lower(hex(randomblob(16))), $phones || printf('%06d', i),
		CAST('{"text":"Plot 1: Weed now, best Mon 14 Dec, by Sat 19 Dec at the latest.\nWhat now?\n1 new plot\n'
			|| '2 my plots\n3 I weeded\n4 what I see\n5 row and tool check","more":true}' AS BLOB),
		$at - 86400 * 6 + CAST(86400.0 * 6 * i / $growers AS INTEGER)
	FROM g`,

	// The texts of the last 390 days: in each of so many rounds, one to each grower. The last is an answer.
	`WITH RECURSIVE n(n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM n WHERE n + 1 < $texts * $growers)
	INSERT INTO message (key, grower_id, phone, kind, body, created_at, due_at, useful_until, state, tries,
		network_id, accepted_at, ended_at, urgency, gateway)
	SELECT 'ring/' || (i + 1) || '.' || ($today - 390 + 65 * k) || '.1.0/' || k, i + 1,
		$phones || printf('%06d', i),
		CASE k WHEN 0 THEN 'prepare' WHEN 1 THEN 'open' WHEN 2 THEN 'nudge' WHEN 3 THEN 'last-days'
			WHEN 4 THEN 'missed' ELSE 'reply' END,
		'Plot 1: the weeds can be pushed into the mud from Mon 8 Jun to Sat 13 Jun. Let in water first. '
			|| 'Weeded? 1 yes, 2 not yet',
		t, t, t + 86400 * 2, 'delivered', 1, 'n' || k || '-' || i, t + 20, t + 60, k < 5, 'local'
	FROM (SELECT n / $growers AS k, n % $growers AS i,
		$at - 86400 * 390 + CAST(86400.0 * 65 * n / $growers AS INTEGER) AS t FROM n)`,
	`INSERT INTO message_plot (plot_id, message_id)
	SELECT grower_id, id FROM message WHERE urgency = 1 ORDER BY grower_id, id`,
}
