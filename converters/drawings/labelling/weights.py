"""What the search for a labelling gives for each thing it sees: the points, and the lengths and angles they hang on.

POINTS: a member that fits in every way earns about 2, a complete clean drawing BEST_POINTS; what only leans one way or
the other earns some tenths. A RANGE of four is read by `score.usual`: no points up to its first value and from its
last on, all of them between the two in the middle. Lengths are rough millimetres, angles degrees. The ranges are what
the trade builds (common practice, no source); the points were weighed against drawings of known truth, so that no
single observation outvotes two others. Every other module of the reader holds its own at its head.
"""

Range = tuple[float, float, float, float]

# --- the reading as a whole -------------------------------------------------------------------------------
BEST_POINTS = 16.3  # points of a complete clean drawing; a reading's share of it is its score
LEAST_POINTS = 0.75  # a member that fits worse than this is not there
LEAST_SEAT = 0.6  # without this much of a seat tube nothing about it is tried: it saves the time

# --- how a line is drawn ----------------------------------------------------------------------------------
PARTNERED = 0.35  # points for a centre-line in the middle of two edges, and for the edges about it
DOUBTED = -0.25  # points by which edges may be weaker than a line and still confirm it
MIDDLE = 0.3  # mm that a centre-line may lie beside the middle of two edges
CONFIRMING = 0.5  # share of a tube's length along which a centre-line has to run to confirm it
STYLE = -0.3  # points: an outline among centre-lines, or a centre-line among outlines
EDGE_ALONE = -1.4  # points: one edge of an outline as the seat tube beside a head tube in outline

# --- where an end meets another tube's line ----------------------------------------------------------------
TUBE_END = 0.85  # an outline's end says a little less than a line's: it stops at a surface, anywhere about the node
OVERRUN = 0.8  # a line that stops short of its node or runs past it by more than a slip
A_SLIP = 4.0  # mm past the node or short of it that are still meant to be at it
# mm past the node beyond which a line was not drawn for it: judged as by a slip
MOST_OVERRUN = 70.0
PAST_MIDDLE = 3.0  # mm by which an outline may end beyond the middle of the tube that it meets
PAST_MIDDLE_LEFT = 0.3  # what an outline keeps that ends farther beyond: a mitre never cuts through
ALONG = 0.5  # share for reaching the node, the rest for lying on the other's line
# what a meeting keeps that lies beyond the other tube's ends: that line may be drawn short
OFF_THE_TUBE = 0.3
NEAR_TUBE = 15.0  # mm beyond the other tube's end that count as on it
FAR_BEYOND = 300.0  # mm beyond it from which a crossing is none: no tube is drawn so much too short
FAR_FROM_TUBE = 140.0  # mm beyond it from which nothing meets there

# --- the bottom bracket -----------------------------------------------------------------------------------
NO_CIRCLE = 99.0  # mm that stand for no small circle at all: more than LOOSE
LINE_PAST = 60.0  # mm by which a line may end before a bottom bracket that it supports
CIRCLE = 2.0  # a small circle's centre supports a bottom bracket as two lines do
MOST_CIRCLES = 40  # small circles looked at; a chainset drawn in full has a dozen

# --- seat tube --------------------------------------------------------------------------------------------
SEAT_ON_BB = 1.5  # points: the seat tube's line passes the bottom bracket exactly
SEAT_REACHES = 0.5  # points: it ends there too; a seat tube's foot is often cut by the shell
SEAT_LEANS = 0.5  # points: at a usual angle
SEAT_ANGLE: Range = (52.0, 67.0, 78.0, 88.0)  # degrees; from long-legged cruisers to triathlon

# --- down tube --------------------------------------------------------------------------------------------
# points: its line passes the bottom bracket; less than the seat tube's, it may enter above
DOWN_ON_BB = 1.2
DOWN_REACHES = 0.3  # points: it ends there too
DOWN_MEETS = 0.8  # points: it meets the steering axis

# --- chainstay and seatstay -------------------------------------------------------------------------------
STAY_END = 0.8  # points for each end of a stay in its place; two of them are a member that fits
CHAIN_REACHES = 0.2  # points for each end that also reaches so far along the line
STAY_REACHES = 0.3  # points: the seatstay reaches the rear axle along its line too
STAY_TUBE_END = 0.7  # points: a curved outline that ends near the rear axle, at the dropout
SHELL_REACH = (
    50.0  # mm from the bottom bracket: a curved outline that ends nearer ends at the shell
)
BENT_STAY = 0.3  # points: a curved stay, whose line through the axle cannot be asked, earns as much as a straight one
STAY_MEETS = 0.6  # points: it meets the seat tube

# --- top tube ---------------------------------------------------------------------------------------------
TOP_MEETS = 0.6  # points for each end that meets its tube
LEAST_JUNCTION = 100.0  # mm up the seat tube to where top tube or seatstay joins
SAME_TOP_TUBE = 0.08  # points within which another line rivals the top tube
MOVED = 1.0  # mm along the seat tube between two such lines

# --- head tube and steering axis --------------------------------------------------------------------------
OFFSET_WINDOW = (-70.0, 190.0)  # mm from axis to front axle; outside it no fork joins them
AXIS_OFFSET: Range = (
    -30.0,
    15.0,
    80.0,
    150.0,
)  # mm; for the order in which axes are tried, wider than for points
HEAD_WINDOW = (40.0, 420.0)  # mm; a longer stretch of the steering axis is not a head tube alone
LEAST_FORK = 130.0  # mm along the axis from the front axle's foot up to a head tube
HEAD_X = (0.3, 1.1)  # wheelbases from the rear axle to a head tube's middle
HEAD_Y = (100.0, 1150.0)  # mm of the head tube's middle above the rear axle
HEAD_LEANS = 0.5  # points: at a usual head angle
HEAD_ANGLE: Range = (50.0, 63.0, 77.0, 86.0)  # degrees; from slack mountain bicycles to track
HEAD_LONG = 0.4  # points: of a usual length; less, because sizes differ more than angles
HEAD_LENGTH: Range = (35.0, 80.0, 260.0, 420.0)  # mm
HEAD_OFFSET = 0.5  # points: with a usual fork offset
OFFSET: Range = (-35.0, 20.0, 75.0, 150.0)  # mm
HEAD_WHOLE = 0.2  # points: drawn as one stretch between natural ends
HEAD_WIDE = 0.3  # points: an outline as wide as head tubes are
HEAD_DIAMETER: Range = (18.0, 33.0, 62.0, 80.0)  # mm
# points for each main tube that joins a usual distance inside the head tube's end
JOINS_INSIDE = 0.7
INSIDE: Range = (-12.0, 6.0, 75.0, 190.0)  # mm
OUTSIDE = -0.8  # points for each main tube that would join beyond the head tube's ends
BEYOND = 12.0  # mm by which it has to
BEYOND_WALLS = 32.0  # mm; an outline may have rings or shoulders beyond its straight walls
STACKED = 0.6  # points: a usual lower headset between head tube and crown
STACK: Range = (-3.0, -0.1, 25.0, 95.0)  # mm; 0 for an integrated headset
STACK_WINDOW = (-2.6, 95.0)  # mm; outside it the fork belongs to another head tube
