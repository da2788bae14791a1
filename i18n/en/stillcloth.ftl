### What Stillcloth's pages say in English, in the syntax of Fluent (https://projectfluent.org).
###
### A message stands in one line, or in one for each of its forms. Its name begins with its page; what
### several pages say comes first. Values, as { $balls }, and elements, as <link>…</link>, may stand in
### any place of a translation, and have to be those of the English one. <b>, <code>, <em> and <strong>
### are those of HTML; any other name stands for an element of the page, mostly a link.
### DEVELOPERS.md says how another language is added.

## What several pages say

# A ball of a layout; one whose number is not known.
ball-cue = Cue ball
ball-number = Ball { $number }
ball-not-read = Not read

# What lies on the table.
layout-with-cue-ball =
    { $balls ->
        [one] cue ball and { $balls } object ball
       *[other] cue ball and { $balls } object balls
    }
layout-without-cue-ball =
    { $balls ->
        [one] { $balls } object ball, no cue ball
       *[other] { $balls } object balls, no cue ball
    }
count-balls =
    { $balls ->
        [one] { $balls } ball
       *[other] { $balls } balls
    }
count-racks =
    { $racks ->
        [one] { $racks } rack
       *[other] { $racks } racks
    }
count-shots =
    { $shots ->
        [one] { $shots } shot
       *[other] { $shots } shots
    }
count-attempts =
    { $attempts ->
        [one] { $attempts } attempt
       *[other] { $attempts } attempts
    }
count-years = { $years } years

# An interval, from its lower end to its upper one, or from one day to another.
range = { $from } to { $to }

# How long ago something was, as "12 min ago"; the scripts write the same (scripts.js).
age = { $duration } ago
duration-seconds = { $seconds } s
duration-minutes = { $minutes } min
duration-hours = { $hours } h
duration-days = { $days } days

# What ended an attempt.
cause-miss = Miss
cause-scratch = Scratch
cause-ball-off-table = Ball off the table
cause-stopped = Stopped
cause-unseen = Ended unseen
going-on = Going on

# What the user said of a rest; stands in rest-you-said.
said-same = nothing happened
said-setting-up = balls were being set up
said-opening-rack = a new attempt begins
said-re-rack = racked again, the run goes on
said-shot = { $potted } pocketed
said-miss = a miss
said-scratch = a scratch
said-ball-off-table = a ball left the table
said-came-back =
    { $balls ->
        [one] { $balls } ball came back
       *[other] { $balls } balls came back
    }
said-by-hand = moved by hand
said-several =
    { $shots ->
        [one] { $potted } pocketed in { $shots } shot
       *[other] { $potted } pocketed in { $shots } shots
    }
said-attempt-on = an attempt is on, its run is { $run }
said-stopped = the player stopped
said-practice = a shot was practised
said-no-rest = the table was not at rest

# Whether a camera's frames come as they should.
health-starting = Starting
health-live = Live
health-stale = Stale
health-lost = Lost
health-ended = Ended
no-frame-yet = No frame yet.
last-frame = Last frame { $age }.

# Ways to other pages.
to-the-table = To the table
to-the-attempts = To the attempts
set-it-up-again = Set it up again
try-a-shot = Try a shot
break-shots = Break shots
progress = Progress
tables = Tables
camera = Camera
the-table = The table
cameras = Cameras

# In a place where the page follows the table, until its script does.
reload = Reload for what is new
run = Run
attempt = Attempt
rack-number = Rack { $rack }
no-attempt-yet = No attempt yet. It begins when fifteen balls are racked.
start-not-seen = Its start was not seen: the run may be longer.
question-open = question open
end-the-practice = End the practice
balls = Balls

# Opens a table of the figures behind a drawing.
figures = Figures

# Heads of tables: so many times somebody came to it, missed it, and what chance that makes.
faced = Faced
missed = Missed
chance = Chance
interval = 95 %

# The two ends of the table, at its drawing.
head-end = ◀ Head
foot-end = Foot ▶
undo = Undo
copy-link = Copy link

## Around every page

# The ways to the pages, in the head of each; "Table" is the billiard table being watched.
shell-table = Table
shell-attempts = Attempts
shell-progress = Progress
shell-draw = Draw
shell-setup = Set-up
shell-pages = Pages

# Leads past the head of a page, for those who go by keys.
shell-skip = To the content

# Headings of the page that comes instead of one that is not there or failed.
shell-nothing-here = Nothing is here
shell-not-now = Not just now
shell-failed = Something failed
shell-does-not-work = That does not work

## The page of a table that is watched

watch-table-of = Table of camera { $camera }

# What each screen sets for itself.
watch-this-screen = This screen
watch-speak = Say the count
watch-beep = Soft sound at each count
watch-keys = Keys 1, 2 and 3 answer

# So many balls, where the player wants to get to.
watch-goal = Goal
watch-no-rest-yet = No rest yet
watch-no-rest-why = As soon as a camera has seen the table at rest, its layout appears here. A program may send pictures to <code>/api/frames</code> too.
watch-set-up = Set up a camera
watch-no-rest-of-camera = This camera has seen no rest yet.

## What the page of a table shows

board-for-you = For you
board-score = Score
board-last-run = Last run

# The cause is one of cause-….
board-ended = <strong>{ $cause }</strong> ended it.
board-rack = Rack

# Balls still to be pocketed until the next rack.
board-left = Left in it

# The longest run on record; and that the one going on is that.
board-high-run = High run
board-this-one = this one
board-practice = <strong>Practice.</strong> Nothing counts until it is over.

# Below a question.
board-meanwhile = Meanwhile the first answer counts. <rest>See the rest</rest>
board-more-open = { $more } more open <attempts>in the attempts</attempts>
board-not-live = Not live.
board-at-rest = At rest since <clock>{ $clock }</clock>, <age>{ $age }</age>: { $layout }.

# Why the drawing may not be how the table lies now. The health is one of health-…, the words are the camera's.
board-nothing-sent = The drawing shows the last rest that was seen; its camera has sent nothing since the program was started.
board-no-frame = The drawing shows the last rest that was seen; no frame has come for more than { $duration }.
board-not-well = The drawing shows the last rest that was seen. Camera { $health }: { $words }
board-before = Before that
board-camera-silent = <strong>{ $camera }: </strong>has sent no frame since the program was started.

# "Rack" asks the player to rack.
board-rack-due = The rack is played out. Rack fourteen, the apex stays empty.

## The list of attempts

attempts-none-why = Attempts are listed here once the camera has seen a rest.
attempts-none = No attempts yet
attempts-of = Attempts of { $camera }
attempts = Attempts
attempts-summary =
    { $attempts ->
        [one] Camera { $camera }: { $attempts } attempt, high run { $run }.
       *[other] Camera { $camera }: { $attempts } attempts, high run { $run }.
    }

# The head of a column of bars, for those who do not see them.
attempts-against-high-run = Run against the high run
attempts-racks = Racks
attempts-ended-by = Ended by
attempts-begun = Begun
attempts-hand-kept =
    { $attempts ->
        [one] { $attempts } attempt from lists that you kept by hand is not shown here: no camera saw it. It counts under <progress>Progress</progress>.
       *[other] { $attempts } attempts from lists that you kept by hand are not shown here: no camera saw them. They count under <progress>Progress</progress>.
    }
attempts-older = Older attempts
attempts-start-not-seen = start not seen

## One attempt

attempt-none = No such attempt
attempt-whole-numbers = Attempts have whole numbers.
attempt-no-camera = No such camera.
attempt-none-of-camera = Camera { $camera } has no attempt { $attempt }.
attempt-no-rest = There is no rest { $rest }.
attempt-title = Attempt { $attempt }, run { $run }

# How the attempt ended is one of cause-…, or going-on.
attempt-heading = Attempt { $attempt }: { $ending }

# The day it began; the racks are count-racks, the shots count-shots.
attempt-facts = <day>{ $day }</day>, camera { $camera }: { $racks }, { $shots }.
attempt-facts-high-run = <day>{ $day }</day>, camera { $camera }: { $racks }, { $shots }, the high run.
attempt-others = Other attempts
attempt-before = Attempt before
attempt-after = Attempt after
attempt-all = All attempts

# Before the kinds of file that an attempt on paper is had as.
attempt-run-sheet = Run sheet:

# One of cause-….
attempt-ended = What ended it: { $cause }
attempt-before-last-shot = Before the last shot
attempt-after-it = After it

# The layouts in which a rack was played out, down to the last ball.
attempt-closing-layouts = Closing layouts
attempt-first-only = Only the first { $rests } rests are shown.

# At a rest in a strip of rests.
attempt-corrected = corrected
attempt-note = note

## What a rest came to

# Short, in a strip of rests.
told-racked = Racked
told-no-count = No count

# In a sentence, on the rest's own page. The cause is one of cause-….
told-opening-rack = The opening rack.
told-racked-again = Racked again: rack { $rack }.
told-pocketed = { $potted } pocketed, the run is { $run }.
told-pocketed-in = { $potted } pocketed in { $shots } shots, the run is { $run }.
told-ended = { $cause }: the run ended at { $run }.
told-nothing = Nothing was counted here.

## One rest

rest-none = No such rest
rest-number = Rest { $rest }
rest-facts = <day>{ $day }</day>, camera { $camera }: { $layout }.
rest-hidden = Part of the cloth is hidden.
rest-others = Other rests
rest-before = Rest before
rest-after = Rest after
rest-its-attempt = Attempt { $attempt }
rest-draw-from-it = Draw from it

# Before the kinds of file that the drawing is had as.
rest-drawing = Drawing, seen from above:
rest-frame-unseen = Its frame shows the room: a device that is <pair>paired</pair> may see it.
rest-frame-alt = The frame it was read from
rest-frame = <frame>Frame</frame> as it came
rest-frame-deleted = Its frame was deleted, as the retention setting says.
rest-frame-not-kept = Its frame was not kept: the disk had little room left.
rest-near = Positions like this one
rest-no-attempt = It belongs to no attempt.

# What was said is one of said-….
rest-you-said = You said: { $said }.
rest-no-practice = No practice from here on
rest-say = Not so? Say what it was

# What a user can say of any rest, under four headings.
rest-goes-on = The run goes on
rest-pocketed = { $balls } pocketed
rest-ended = It ended
rest-i-stopped = I stopped
rest-racked = Racked
rest-racked-again = Racked again
rest-new-attempt = A new attempt
rest-nothing-counts = Nothing counts
rest-by-hand = Moved by hand
rest-setting-up = Setting up
rest-practice = Practice
rest-not-at-rest = Not at rest
rest-where = Where each ball lies
rest-where-caption = Places in diamonds, along the table from 0 to 8 and across from 0 to 4; how far off they may be; how sure the ball and its number are.

# Heads of the table of balls: places along and across; the number of the ball.
rest-ball = Ball
rest-along = Along
rest-across = Across
rest-number-short = No.

## Positions like one

near-made = Of the { $positions } nearest positions with as many balls, or their mirror images, { $made } were made.
near-off = off by { $diamonds } diamonds a ball

## A note on a rest or an attempt

note-on =
    { $about ->
        [attempt] Note on this attempt
       *[rest] Note on this rest
    }
note-write = Write a note
note-change = Change the note
note-keep = Keep the note

## How to play a rest

advice-heading = How to play it
advice-think = <ask>Think about it</ask> (it takes about two seconds)
advice-try-again = Try again
advice-try-shot = Try this shot
advice-others = Other choices

# Whose errors the advice reckons with; the level is a word such as "club", which is not translated yet.
advice-for-level = for a { $level } player
advice-for-player = for the player

## A layout set up again

again = Set up again
again-nothing = Nothing to set up
again-lead = Put a layout on the table again, ball by ball, and play its shot until it drops.

# What is chosen there is set-it-up-again.
again-choose = Take a rest from <attempts>the attempts</attempts> and choose <em>Set it up again</em>, or <draw>draw a layout</draw> and choose the same there.
again-not-live = <strong>Not live.</strong> What is shown is the last rest that was seen.
again-what-to-do = What to do
again-the-score = The score
again-practice = <strong>Practice.</strong> Nothing that is played here counts in the score.
again-counts = The score goes on counting what is played here.
again-practise = Practise: nothing counts

# What the player has to do, in large letters.
again-not-clear = The table was not seen clear yet. Step back from it.
again-ready = All in place. Play the shot.
again-empty = There is no ball in this layout.

# A ball (ball-cue, ball-number or again-a-ball) and what it asks for, from again-put-on on.
again-now = { $ball }: { $asks }
again-in-place =
    { $extra ->
        [0] { $placed } of { $all } in place. The table is looked at again whenever it is clear and still.
        [one] { $placed } of { $all } in place, { $extra } ball too many. The table is looked at again whenever it is clear and still.
       *[other] { $placed } of { $all } in place, { $extra } balls too many. The table is looked at again whenever it is clear and still.
    }
again-turned = Nothing tells the camera which end is the foot: the layout is shown the way round that fits best.

# A ball whose number is not known.
again-a-ball = A ball

# What a ball asks for; the way is as "34 mm". Left and right as seen from the head.
again-put-on = put it on the table
again-placed = in place
again-take-off = take it off
again-toward-foot = { $way } toward the foot
again-toward-head = { $way } toward the head
again-to-left = { $way } to the left
again-to-right = { $way } to the right

# Where another ball than the one of the layout lies for it.
again-another = (the { $ball } stands for it)
again-left-right = Left and right as seen from the head, looking to the foot.
again-told = { $placed } of { $all } balls in place

## The shots of a layout that is set up again

count-heading = Shots
count-no-cue-ball = Shots are counted where the layout has a cue ball; this one has none.
count-none = Each shot from the layout as it should lie is counted here.
count-made-of = <made>{ $made }</made> of { $shots } made
count-missed = Missed
count-scratched = Scratched
count-where = Where the cue ball ended
count-chance = So many shots put your chance between { $low } and { $high }, with 95 % confidence.
count-no-chance = Too few to tell a chance: { $shots } of { $needed } shots.
count-marks = Discs: made. Crosses: missed.
count-ellipse = Nine in ten further made shots will end inside the ellipse, if they are like these.
count-no-ellipse = Too few for an ellipse: { $shots } of { $needed } made shots.

# What became of a shot.
count-shot-made = made
count-shot-missed = missed
count-shot-scratched = scratched
count-pocketed = { $balls } pocketed

# Buttons that leave a shot out of the count, and take it in again.
count-was-no-shot = Was no shot
count-left-out = Left out

## What the player's record says

progress-none = No record yet
progress-none-why = What your record says stands here once the camera has seen an attempt.
progress-no-attempt = Camera { $camera }: no attempt yet. One begins when fifteen balls are racked.

# The facts are progress-attempts to progress-median, in this order.
progress-summary = Camera { $camera }: { $facts }.
progress-summary-stopped = Camera { $camera }: { $facts }; { $stopped } stopped or not seen to end.
progress-attempts-hand-kept =
    { $attempts ->
        [one] { $attempts } attempt ({ $hand_kept } of them hand-kept)
       *[other] { $attempts } attempts ({ $hand_kept } of them hand-kept)
    }
progress-high = high run { $run }
progress-high-hand-kept = high run { $run } (hand-kept)
progress-mean = mean { $mean }
progress-median = median { $median }
progress-the-goal = The goal
progress-no-goal = What the record says

# Figures that are told in large.
progress-chance = Chance of an attempt
progress-even-chance = Attempts for an even chance
progress-chance-by-day = Chance by the day

# What is set beside a goal: so many balls, by some day; or the player's age, from the day of birth.
progress-change-goal = Change the goal
progress-set-goal = Set a goal
progress-by = By (if you like)
progress-so-many = So many balls
progress-born = Born on
progress-my-age = My age by the next birthday
progress-kept-here = Kept on this device alone.

## The charts of the record

charts-far = How far runs go

# The names of axes.
charts-balls-racks = balls; a mark where a rack ends
charts-chance = chance
charts-attempts = attempts, in order
charts-months = months
charts-balls = balls
charts-rack-ball = ball of the rack; 1 is the break shot
charts-missed = missed

# A chance at an axis.
charts-all = all
charts-one-in = 1 in { $attempts }
charts-far-caption = The chance of an attempt to get so far: the line is the record, the shade its 95 % interval, ball by ball.
charts-far-goal = The ring is the goal as reckoned from misses, with its interval.

# What a drawing shows, for those who do not see it. The chances are charts-far-told-one.
charts-far-told = A falling stair over the balls of an attempt. Chance to get to { $chances }.
charts-far-told-one = { $balls } balls: { $chance } ({ $low } to { $high })

# Heads of the tables of figures: a ball of an attempt; so many came to it; so many attempts ended there.
charts-ball = Ball
charts-came-to = Came to it
charts-ended = Ended
charts-rack = Rack

# Runs in their order, or month by month.
charts-time = Runs over time
charts-each-run = Each run; a ring is one that was stopped.
charts-each-month = Each month: a stem up to its high run, a disc at the mean.
charts-first = First, from { $from }: mean { $mean }, high run { $run }.
charts-last = Last, from { $from }: mean { $mean }, high run { $run }.
charts-from = From
charts-attempts-head = Attempts
charts-mean = Mean
charts-median = Median
charts-high-run = High run

# The ball that was missed, counted from the first of its rack.
charts-place = Misses by place in the rack
charts-place-heading = What ends runs: by place in the rack
charts-place-caption = The part that is missed, with its 95 % interval: a square for break shots, discs for the other balls, each read together with the others; the dashes are their mean.
charts-break-shot = Break shot

# A share with its interval, as "12 % (8 % to 17 %)".
charts-share = { $share } ({ $low } to { $high })
charts-places-told = Of break shots { $breaks } are missed, of other balls { $others }.
charts-racks = What ends runs: rack by rack

## Misses by what the shots were

misses-heading = What is missed

# The kind of shot is the program's word and not translated yet, as is the heading that it stands under.
misses-told = { $kind }: { $missed } of { $faced }
misses-by = Misses by: { $heading }
misses-shots = Shots

## What to practise

plan-heading = What to practise now
plan-helped = Has it helped?
plan-since = Since when you practise
plan-compare = Compare before and since
plan-missed-from = missed from rest { $rest }

## What would change most

skills-heading = If one skill were a tenth better
skills-other = Camera { $camera }'s record is looked at just now.
skills-not-asked = Aim, speed and spin are tried one by one in positions of your record. It takes the program a minute or two.
skills-running = { $done } of { $of } positions are played.
skills-again = Find out again
skills-find = Find out

## Break shots

breaks-none-why = Break shots are shown here once the camera has seen a rack closed.
breaks-none = No break shots yet
breaks-summary =
    { $shots ->
        [one] Camera { $camera }: { $shots } break shot, { $made } made.
       *[other] Camera { $camera }: { $shots } break shots, { $made } made.
    }
breaks-none-yet = None yet: a break shot is on record once a rack is closed and the next one opened.
breaks-told = A table with { $layouts } closing layouts; { $made } break shots were made.
breaks-where = Where they lay
breaks-marks = A disc is a break ball that was made, a crossed square one that was missed; the ring is the cue ball of the same shot.

# What became of one: made, with so many balls of the rack opened after it.
breaks-made =
    { $balls ->
        [one] Made, rack of { $balls } ball
       *[other] Made, rack of { $balls } balls
    }
breaks-missed = Missed

# Which break shot it is; the outcome is breaks-made or breaks-missed.
breaks-one = Attempt { $attempt }, rack { $rack }. <near>Nearest to it</near>
breaks-this-one = Attempt { $attempt }, rack { $rack }: this one
breaks-nearest-to = Attempt { $attempt }, rack { $rack }: { $outcome }.
breaks-latest = The latest
breaks-nearest = The nearest to one

## Contests

contests = Contests
contests-lead = Runs of several players compared. A player's entry is a signed file, which <code>stillcloth enter</code> writes; who has none is entered by hand, with a film.
contests-none = No contest yet.

# Heads of the list: the contest, its days, how many players, who leads.
contests-contest = Contest
contests-days = Days
contests-players = Players
contests-leads = Leads

# What counts in a contest.
contests-longest-run = Longest run
contests-run-against-age = Run against age
contests-open = Open a contest
contests-fields = Name, days and what counts
contests-name = Name
contests-counts = What counts
contests-from = From
contests-to = To
contests-table = Table
contests-any-table = Any
contests-open-it = Open the contest
contests-days-told = Days are those of UTC, the last one included. An age is told in whole years; nobody is asked for a birth date.

## One contest

contest-no-entry = No entry counts yet.

# Heads of the standings.
contest-place = Place
contest-player = Player
contest-above-age = Above age
contest-day = Day
contest-checked = Checked

# Several share a place.
contest-tied = tied

# How far an entry was checked.
contest-verified = Verified
contest-to-look-at = To be looked at
contest-unverified = Unverified, by hand

# What stands in <hidden> is for those who do not see which line it stands in.
contest-film = Film<hidden> of { $player }, entry { $entry }</hidden>

# What counts is contests-longest-run or contests-run-against-age.
contest-rules = { $counts }, attempts of { $from } to { $to } (UTC).
contest-rules-table = { $counts }, attempts of { $from } to { $to } (UTC), table { $table }.
contest-none-why = There is no contest at this address.
contest-none = No such contest
contest-to-contests = To the contests
contest-this = This contest
contest-all = All contests
contest-save-csv = Save as CSV
contest-save-page = Save as a page
contest-standings = Standings
contest-entries = Entries

# An entry that does not count any more.
contest-withdrawn = Withdrawn
contest-removed = Removed
contest-entry = Entry { $entry }: { $player }, run { $run }
contest-records =
    { $records ->
        [one] { $records } record.
       *[other] { $records } records.
    }
contest-signed-file = The signed file<hidden> of entry { $entry }</hidden>

# The key that signed an entry.
contest-key = Key <code>{ $key }</code>
contest-withdraw-or-remove = Withdraw or remove<hidden> entry { $entry }</hidden>
contest-reason = Reason (if you like)
contest-withdraw = Withdraw, as the player wishes
contest-remove = Remove
contest-count-again = Let it count again<hidden>: entry { $entry }</hidden>
contest-take-in = Take an entry in
contest-signed-shows = A signed file shows that nobody but the key's holder changed it, and that the run follows from its records by the rules. It cannot show that the rests were not made up: look at the film and the pictures.
contest-file = Signed file
contest-check = Check and take in
contest-by-hand = By hand, with a film
contest-age = Age in years
contest-age-if = Age in years (if you like)
contest-film-field = Film
contest-enter = Enter, unverified
contest-verified-told = Verified: signed by the player's key, unchanged, and the run follows from the records by the rules. That the rests were played so, films and pictures alone can show.

## Drawing a layout

draw = Draw a layout
draw-needs-scripts = Drawing needs scripts, which this browser does not run.
draw-table = The table; each ball on it can be moved
draw-begin = Choose a ball, then tap the table where it lies.

# On a button as small as a ball.
draw-cue = Cue
draw-no-number = A ball without a number
draw-chosen = Chosen ball
draw-none-chosen = No ball is chosen.

# Where the ball lies, along the table and across it.
draw-along = Along
draw-across = Across
draw-remove = Remove
draw-keys = In diamonds from the head rail and the near long rail. Arrow keys move a ball, with Shift in large steps, with Alt in small ones; Delete removes it.

# What is done with the whole table.
draw-whole = Table
draw-size = Size
draw-fifteen = Rack fifteen
draw-fourteen = Rack fourteen
draw-round = Turn round
draw-clear = Clear
draw-redo = Redo
draw-photo = From a photo
draw-photo-of = Photo of a whole table, from above or from the side
draw-photo-kept = The program on this machine reads it and keeps nothing of it.
draw-photo-alt = Your photo, to compare with
draw-take = Take it with you

# The ends of a table that stands upright on the screen.
ends-upright = ▲ Foot above, ▼ head below

## Trying a shot

try-needs-scripts = Trying a shot needs scripts, which this browser does not run.
try-table = The table; a drag turns the cue, a tap on a ball aims at it
try-begin = Drag anywhere on the table to turn the cue.
try-outcome = What becomes of it
try-go-on = Go on from there
try-back = Back
try-change = Change the layout
try-aim = Aim in degrees
try-left = 0.1° left
try-right = 0.1° right
try-aim-keys = 0 is toward the foot, 90 toward the rail on its left. The arrow keys turn the cue too: with Shift in large steps, with Alt in small ones.
try-stroke = Stroke
try-tip = The cue ball as the player sees it; a drag moves the tip

# How hard; how far the tip meets the ball above or below its middle, and beside it; how far the cue is raised.
try-speed = Speed
try-height = Height
try-side = Side
try-raised = Raised
try-who = Who plays

# The level is chosen from a list of words such as "club".
try-errors = The errors of a <level></level> player
try-squares = The squares show where the cue ball comes to rest when the same hit is played again and again with such errors.

## Setting a camera up

setup-heading = Set up a camera
setup-warning = A warning before this page? How a device learns to trust this machine
setup-no-such = There is no camera { $camera } at present.
setup-none = There is no camera yet. Use a phone, or start the program with one: <code>stillcloth serve --camera 0</code>.
setup-needs-scripts = Setting up needs scripts, which this browser does not run.
setup-scene = The camera's picture, with the table that was found drawn over it
setup-waiting = Waiting for the camera's picture …
setup-help = The lines should lie where the cushions' noses are, the circles on the pockets, the small marks on the sights. Drag a corner where they do not, or choose it with the Tab key and move it with the arrow keys, with Shift in large steps.
setup-quality = How good it is
setup-nothing-found = Nothing was found yet.
setup-better = What would make it better
setup-cloth = The cloth

# How fast the cloth is: how far a ball rolls that begins at 1 m/s.
setup-cloth-learned = A ball that rolls at 1 m/s runs <b>{ $runs } m</b> here, give or take { $off } m: learned from the last { $rolls } balls that rolled out.
setup-cloth-used = Advice and tried shots go by it.
setup-cloth-not-yet = How fast it is shows while you play, from balls that roll out in the open: { $rolls } of the { $needed } that are needed.
setup-cloth-ordinary = Until then advice goes by an ordinary cloth, on which a ball that rolls at 1 m/s runs { $runs } m.
setup-foot = Foot end, where the rack stands
setup-foot-found = As found <where></where>

# The script says there where the foot was found.
setup-left = Left in the picture
setup-right = Right in the picture
setup-above = Above in the picture
setup-below = Below in the picture
setup-size = Size
setup-as-found = As found
setup-another = Another
setup-length = Length, mm
setup-width = Width, mm
setup-between-noses = Between the cushions' noses.
setup-keep = Keep it
setup-keep-this = Keep this set-up
setup-find = Find the table anew
setup-kept-told = The camera goes by it at once, and after a restart.
setup-phone = Use a phone as a camera
setup-phone-code = Code that pairs a phone as a camera
setup-phone-scan = Scan this with the phone: it is paired, and its page shows what it sees. <link>The same as a link</link>
setup-certificate-code = Code for the page about the certificate
setup-certificate-scan = The phone warns of the connection? Scan this first: <link>how it learns to trust this machine</link>
setup-pictures-code = Code for single photos without a certificate
setup-pictures-scan = Without any certificate: single photos, over a connection that others could listen to, with a key that is good for photos alone. <link>The same as a link</link>
setup-first-code = Whoever sees the first code can change what the program keeps: show it to nobody else. Did somebody see it, or is a phone lost? <forget>Forget all paired devices</forget>.
setup-phone-closed = Only this machine reaches the program now. Start it with <code>stillcloth serve --lan</code> and a code to scan appears here. <here>This machine's own camera</here> can be used as it is.

## Cautions, on the pages that put a camera up

cautions-heading = Before you hang anything above people
cautions-tether = Fix it to structure, not to a ceiling tile or a lamp's cable, and add a second, independent tether of metal, for a phone too. A clamp alone is no mount.
cautions-ladder = Work on a ladder with someone at its foot and nobody under it. Never stand on the table.
cautions-drilling = Do not drill where you do not know what lies behind. A new mains outlet or a fixed lamp is an electrician's work; keep chargers' cables out of reach of cues.
cautions-warm = A phone that charges and films gets warm: keep it out of the lamp's heat, and look after it.
cautions-people = Other people come into the picture: tell them, ask the room's owner, and turn it off where somebody objects. The law of the place on filming holds.
cautions-codes = Local building, electrical and fire codes go before anything said here.

## A phone as a camera

phone-heading = This device as a camera
phone-needs-scripts = Sending pictures needs scripts, which this browser does not run.
phone-trust = How this device learns to trust the machine
phone-watch = Watch the table
phone-encrypted = Open this page encrypted
phone-preview = What this device's camera sees
phone-off = The camera is off.
phone-start = Start
phone-stop = Stop
phone-name = Name of this camera
phone-lay-still = Lay the device still over the table, the whole rail in the picture, and lock the turning of its screen. Then set it up: <setup>Set-up of this camera</setup>.
phone-one-photo = Send one photo
phone-photo-of = A photo of the whole table; it is read and kept
phone-sent = Sent
phone-drawing-alt = The layout that was read
phone-what-was-read = What was read

## Pairing a device

pair-heading = Pair this device
pair-not-needed = Only this machine reaches the program, so nothing has to be paired. <code>stillcloth serve --lan</code> lets other devices in.
pair-paired = <strong>This device is paired.</strong> It may change what the program keeps.
pair-go-on = Go on
pair-setup = Set-up of the cameras
pair-phone = Use this device as a camera
pair-forget = Forget all paired devices
pair-forget-told = For a phone that is lost, or a code that others have seen. The program makes a new key: every phone, tablet and program that was paired has to be paired again. This device stays paired, and nothing that is kept is lost.
pair-new-key = Make a new key
pair-pictures-only = This device may send pictures. For all else it needs the other key, and an address with https:// in front.
pair-looks-on = This device may look on. With the key it may also send pictures and change things. The key stands in the terminal where the program was started, and on the set-up page of a device that is paired: scan its code, or type it here.
pair-needs-scripts = Pairing needs scripts, which this browser does not run.
pair-key = Key
pair-do = Pair

## Trusting this machine

trust = Trust this machine
trust-given = The program shows a certificate that you gave it: there is nothing to install. Open it by the name that the certificate is for.
trust-not-needed = Only this machine reaches the program, so nothing is encrypted and nothing has to be trusted. <code>stillcloth serve --lan</code> lets other devices in.

# What is done on each system, step by step; names of menus as the system has them in this language.
trust-iphone = iPhone and iPad
trust-iphone-1 = Open this page in Safari, tap the button above and allow the download.
trust-iphone-2 = Settings, General, VPN & Device Management: tap the downloaded profile, then Install.
trust-iphone-3 = Settings, General, About, Certificate Trust Settings: switch it on. Without this step it is there and not trusted.
trust-android = Android
trust-android-1 = Tap the button above; the file is in the downloads then.
trust-android-2 = In the settings search for CA certificate, choose it, and Install anyway.
trust-android-3 = Choose the file. The system may say from now on that the network could be watched: it means this certificate.
trust-macos = macOS
trust-macos-1 = Open the downloaded file: it comes into the keychain.
trust-macos-2 = Open it there, and under Trust choose Always Trust.
trust-windows = Windows
trust-windows-1 = Open the downloaded file, then Install Certificate, Current User.
trust-windows-2 = Place it in the store Trusted Root Certification Authorities.
trust-linux = Linux, and any browser with certificates of its own
trust-linux-1 = In the browser's settings search for certificates, and there for authorities.
trust-linux-2 = Import the file, and trust it for websites.
trust-why = A browser gives a page the camera only over an encrypted connection to a machine that it trusts. This machine has made a certificate authority of its own for that; a device is told once to trust it.
trust-get = Get the certificate
trust-then-open = Then open <link>{ $address }</link>.
trust-vouches = It may vouch for private addresses, for .local and for this machine's names, and for nothing else. Its fingerprint (SHA-256), which the terminal shows too:
trust-only-where = Install it only where the two are the same: whoever makes a certificate that you trust can pass for this machine. Take it off the device again when you no longer need it.
trust-no-certificate = There is no certificate of the program's own: /certificate says why.
