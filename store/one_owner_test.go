package store

import (
	"regexp"
	"slices"
	"strings"
	"testing"
)

// A query is about one owner if it finds or adds rows by the key of one grower, phone, plot, text, place, network or
// process, or of the one count of wrong codes. A transaction of such queries can be served by the one machine that has
// the owner's rows.
var oneOwner = regexp.MustCompile(`(?s)` +
	`\b(?:phone|grower_id|plot_id|circle_id|member_id|from_id|to_id|owner_id|debtor_id|tool_id|` +
	`number|message_id|id|hash|place_id|key|` +
	`name|scope|version)` +
	` = (?:CAST\()?\$\d` +
	`|\bmove_wrong WHERE day = \$\d` +
	`|\bphone IN \(CAST\(\$\d AS TEXT\), ''\)` +
	`|^INSERT INTO \w+\s+\([^)]*\)\s+VALUES `)

// manyOwners lists the queries that may be about many owners at once, by the reason for it. They are for the batches of
// the background and for the operator. A callback of a grower uses only the list of places and queries with a list of
// ids, which are then those of this grower. On a database that is spread over machines the others ask all machines.
var manyOwners = map[string]string{
	"the bell, by batches of growers": `sqlDueGrowers sqlDueShare sqlDueAgain sqlDuePlots sqlHistoryOf sqlDueTold
		sqlWorked sqlPlotsByID sqlAskedLook
		sqlSetLooks sqlWaitsOfPhones sqlUndecidedOfPlots sqlTell sqlAnnounce sqlEnqueueAll sqlLinkPlots sqlSavePrompts`,
	"the outbox, by batches of texts": `sqlClaim sqlDueByPrefix sqlDueBack sqlDueUncertain sqlExpire sqlClaimed
		sqlClaimedBy sqlDueReminders sqlPendingInQuietHours sqlReleaseDeferred sqlEarly sqlSpentByNetworks
		sqlSpentByScope sqlSpentNumbers sqlSpentDays`,
	"the list of the morning, by batches of growers": `sqlNamesOfGrowers
		sqlAttendAllSoon sqlAttended sqlAttentionDue sqlAttentionOf
		sqlContactOf sqlDropAttention sqlPutAttention sqlTroubleOf`,
	"places, of which there are few": `sqlAttendedPlaces sqlPlaces sqlPlacesByID sqlDefaultPlace sqlLearnPlots
		sqlLastWeather`,
	"letters, a slice at a time, and the texts of one letter that wait": `sqlDueLetters sqlLetterDecided
		sqlLetterLastTry sqlLetterStates sqlLetterTexts sqlLetterWaits sqlLetters sqlPruneLetters sqlPutOffLetters
		sqlStopAllLetters sqlStopAllPlaces sqlStopLetterPlaces sqlWithdrawLetter`,
	"texts of circles that are due at night in a place": `sqlPutOffOfCircles`,
	"accounts of staff, of which there are few": `sqlAnyStaff sqlDropLinks sqlDropPlaces sqlEndStaffSessions
		sqlFirstLink sqlOperators sqlPlaceIDs sqlPlacesOfStaff sqlSessionsOfStaff sqlStaff sqlStaffPlaces`,
	"lists for staff, a page at a time": `sqlTrailOfNoPlace sqlCircleLines sqlReachedLately`,
	"upkeep, a page at a time": `sqlPruneLink sqlPruneStaffSessions sqlPruneTrail
		sqlOldGrowers sqlOldSeason sqlOldLoose sqlOldMessages sqlPruneCallbacks
		sqlPruneCodes sqlPruneEarly sqlPruneExchanges sqlPruneMessages sqlPrunePrompts sqlPruneSpend
		sqlPruneTries sqlPruneWrong sqlPruneAsks sqlPruneTurns sqlOverAsk sqlOldCircle sqlHalfErased
		 sqlDropEarly sqlDropOldest sqlSessionsAfter sqlDropProcesses`,
	"circles, by batches, or with a list of the circle and plots of one grower": `sqlDueCircles sqlCirclesByID
		sqlFreeCircles sqlPeople sqlSharedTools sqlTurns sqlToldTurns sqlTurnsOfPlots sqlWishes sqlPutToldTurns`,
	"the season report, a place or a page at a time": `sqlReportField sqlTextsByKind sqlLastPlot
		sqlPutField sqlPutTexts sqlReportMonths sqlReportPlots sqlReportTexts sqlTextsByPlace`,
	"counts for the operator": `sqlAnyRecords sqlContents sqlCountCircles sqlCountMembers sqlCountQuestions
		sqlCountPlaces sqlCountDueAfter sqlCountDueAt sqlCountEnded
		sqlCountExchanges sqlCountGrowers sqlCountPlots sqlCountSessions sqlCountTexts sqlCountUnlinked sqlCountWaiting
		sqlExchangesUntil sqlLastGrower sqlLeftAlone sqlLeftAloneCount sqlNewest sqlNewestCallback sqlNewestMessage
		sqlOverduePlaces sqlSeen sqlSessionsUntil sqlSpentToOne sqlUndecidedCount sqlWaitingUntil sqlSchema`,
	"lists for the operator": `sqlAwaited sqlProcesses sqlUndecided sqlUnlinked sqlWaiting sqlGrowersByID
		sqlOpenPlotsOf sqlGrowersInList sqlGrowerLines
		sqlExportPlots sqlExportTexts sqlImportClosed sqlImportGrowers sqlImportOptOuts sqlImportWorked`,
	"a restore": `sqlEndAllAsks sqlForgetTurns sqlPlanAll sqlCircleGrowers sqlFormerCircles sqlEndCodes
		sqlEndPrompts sqlEndSessions sqlFormerGrowers sqlFormerGrowersTo sqlFormerOptOuts
		sqlFormerStops sqlSequences`,
	"the columns of a table": `sqlColumns`,
	"the corrections of a grower's plots, whose ids were read before": `sqlContacts sqlCorrections`,
}

func TestEveryQueryIsAboutOneOwner(t *testing.T) {
	listed := map[string]bool{}
	for _, names := range manyOwners {
		for _, name := range strings.Fields(names) {
			errorIf(t, listed[name], "%s is listed twice", name)
			listed[name] = true
		}
	}
	queries, _ := readSource(t)
	var unlisted []string
	for name, query := range queries {
		one := oneOwner.MatchString(strings.TrimSpace(query))
		if !one && !listed[name] {
			unlisted = append(unlisted, name)
		}
		errorIf(t, one && listed[name] && !strings.Contains(query, "jsonb_each"), "%s is about one owner", name)
		delete(listed, name)
	}
	slices.Sort(unlisted)
	errorIf(t, len(unlisted) > 0, "These queries name no owner. Make them do so, or list them with the reason: %s",
		strings.Join(unlisted, " "))
	for name := range listed {
		t.Errorf("%s is listed and does not exist", name)
	}
}
