// The chip Knot: one scrolling layer of tiles, fetched a line ahead. Verilog-2005.
//
// A line begins with slot 0 of the memory, FRAME_DOTS_PER_LINE - FRAME_WIDTH dots before its dot 0. While it goes by, the cells of
// the line that comes next are fetched, one a slot, then the two bytes of each one's row; the line itself is shown meanwhile from
// what was fetched before. The registers count from the next line on.

`timescale 1ns / 1ps

module tile_layer (
    input wire clock,  // rises once a dot, and once a slot
    input wire reset,

    // the CPU's bus: a byte a clock
    input wire       cpu_write,
    input wire [7:0] cpu_address,
    input wire [7:0] cpu_data,

    // who has the memory in this slot
    output wire [7:0]  slot,
    output wire        busy,
    output wire [7:0]  client,
    output wire [11:0] address,
    output wire [7:0]  data,

    // what shows at this dot
    output reg  [7:0] line,
    output wire       valid,
    output wire [7:0] dot,
    output wire [3:0] entry
);

`include "constants.svh"

    localparam integer TILES = FRAME_WIDTH / MODES_TILE_X;
    localparam integer AHEAD = FRAME_DOTS_PER_LINE - FRAME_WIDTH;

    // ---- Memory, and the registers as the CPU writes them

    reg [7:0] video [0:MEMORY_SIZE-1];
    initial $readmemh("memory/video.hex", video);

    reg       enable;
    reg [7:0] scroll_x;
    reg [6:0] scroll_y;
    reg [2:0] map, patterns;  // in steps of FIELDS_STEP

    always @(posedge clock)
        if (cpu_write)
            case (cpu_address)
                REGISTER_REEDS_ENABLE_ADDRESS:         enable <= cpu_data[0];
                REGISTER_REEDS_SCROLL_X_ADDRESS:       scroll_x <= cpu_data;
                REGISTER_REEDS_SCROLL_Y_ADDRESS:       scroll_y <= cpu_data[6:0];
                REGISTER_REEDS_TILES_MAP_ADDRESS:      map <= cpu_data[2:0];
                REGISTER_REEDS_TILES_PATTERNS_ADDRESS: patterns <= cpu_data[2:0];
                default: ;
            endcase

    // ---- Time: slot 0 is the first of the line's blanking

    localparam integer LAST = FRAME_LINES_PER_FRAME - 1;

    reg [7:0] now;
    wire begins = reset || now == FRAME_DOTS_PER_LINE - 1;  // with the next clock another line does
    wire [7:0] follows = line == LAST ? 8'd0 : line + 8'd1;
    wire [7:0] beginning = reset ? LAST : follows;
    wire [7:0] wanted = beginning == LAST ? 8'd0 : beginning + 8'd1;  // whose tiles are fetched while that one goes by

    always @(posedge clock) begin
        now <= begins ? 8'd0 : now + 8'd1;
        if (begins) line <= beginning;
    end

    // ---- Fetch: cells in the first slots, then rows

    reg [7:0] column;               // dot of the map at the line's left edge
    reg [6:0] row;                  // its line
    reg [2:0] from_map, from_patterns;
    reg [5:0] tiles;                // how many tiles the line shows a part of; 0: none are fetched
    reg       filling;              // which of two sets of tiles is fetched, while the other shows
    reg [7:0] cells [0:63];
    reg [15:0] rows [0:63];
    reg [2:0] fine [0:1];           // by how many dots the first tile of a set is cut
    reg       shown [0:1];          // whether a set shows anything

    wire show = enable && wanted < FRAME_HEIGHT;
    wire fills = !reset && !filling;

    always @(posedge clock)
        if (begins) begin
            column <= scroll_x;
            row <= wanted[6:0] + scroll_y;
            from_map <= map;
            from_patterns <= patterns;
            tiles <= show ? TILES + (scroll_x[2:0] != 0) : 6'd0;
            filling <= fills;
            fine[fills] <= scroll_x[2:0];
            shown[fills] <= show;
        end

    wire [5:0] tile_of_row = (now - tiles) >> 1;
    wire       of_cells = now < tiles;
    wire       of_rows = !of_cells && now < 3 * tiles;
    wire [4:0] map_column = column[7:3] + now[4:0];
    wire [7:0] cell_fetched = cells[{filling, tile_of_row[4:0]}];
    wire       second = now[0] ^ tiles[0];

    assign slot = now;
    assign busy = of_cells || of_rows;
    assign client = of_cells ? CLIENT_REEDS_CELLS : CLIENT_REEDS_PATTERN;
    assign address = of_cells
        ? from_map * FIELDS_STEP[32 * FIELD_REEDS_TILES_MAP +: 12] + row[6:3] * MODES_PAGE_X + map_column
        : from_patterns * FIELDS_STEP[32 * FIELD_REEDS_TILES_PATTERNS +: 12]
            + cell_fetched[CELL_REEDS_TILES_PATTERN_LOWEST +: CELL_REEDS_TILES_PATTERN_BITS] * MODES_PATTERN_BYTES
            + row[2:0] * MODES_ROW_BYTES + second;
    assign data = video[address];

    always @(posedge clock)
        if (of_cells) cells[{filling, now[4:0]}] <= data;
        else if (of_rows) begin
            if (second) rows[{filling, tile_of_row[4:0]}][7:0] <= data;
            else rows[{filling, tile_of_row[4:0]}][15:8] <= data;
        end

    // ---- Show: the leftmost dot of a row stands in its top bits

    wire       showing = !filling;
    wire [7:0] across = dot + fine[showing];
    wire [7:0] cell_shown = cells[{showing, across[7:3]}];
    wire       flipped = cell_shown[CELL_REEDS_TILES_FLIP_X_LOWEST];
    wire [2:0] place = flipped ? MODES_TILE_X - 1 - across[2:0] : across[2:0];
    wire [1:0] value = rows[{showing, across[7:3]}] >> (MODES_BITS_PER_DOT * (MODES_TILE_X - 1 - place));
    wire [1:0] bank = cell_shown[CELL_REEDS_TILES_BANK_LOWEST +: CELL_REEDS_TILES_BANK_BITS];

    assign valid = now >= AHEAD && line < FRAME_HEIGHT;
    assign dot = now - AHEAD;
    assign entry = !shown[showing] || value == MODES_TRANSPARENT ? CONTROLS_RESET[32 * CONTROL_BACKDROP +: 4]
        : MODES_BASE + bank * MODES_BANK_STEP + value;
endmodule
