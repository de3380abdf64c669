// A part of the bench: what a folder's stimulus asks for, when it is done and how it gets there.
  // ---- stimulus ----
  integer stimulus, s_frame, s_line, s_dot, s_start, s_begun, s_hands, s_step, s_count, s_number, s_over, s_under;
  reg [31:0] s_at, s_value;
  reg [8*12-1:0] s_kind;
  reg [8*512-1:0] rest;
  localparam integer LATER = 4096;
  reg s_there;
  task next_stimulus;
    begin
      s_there = 0;
      while (!s_there && !$feof(stimulus)) begin
        got = $fscanf(stimulus, "%s", s_kind);
        if (got == 1) begin
          s_there = 1;
          case (s_kind)
            "bus", "palette", "sprite", "memory":
              got = $fscanf(stimulus, "%d %d %d %h %h", s_frame, s_line, s_dot, s_at, s_value);
            "field", "register":
              got = $fscanf(stimulus, "%d %d %d %d %h", s_frame, s_line, s_dot, s_number, s_value);
            "read": got = $fscanf(stimulus, "%d %d %d %h", s_frame, s_line, s_dot, s_at);
            "transfer": begin
              got = $fscanf(stimulus, "%d %d %d %h %d %d", s_frame, s_line, s_dot, s_at, s_step, s_count);
              for (k = 0; k < s_count; k = k + 1) begin
                got = $fscanf(stimulus, " byte %d %h", s_number, s_value);
                bytes[bytes_in % BYTES_KEPT] = s_value[7:0];
                bytes_in = bytes_in + 1;
              end
            end
            "status": begin
              got = $fscanf(stimulus, "%d %d %h %h", s_frame, s_line, s_at, s_value);
              s_dot = 0;
            end
            "waiting": begin
              got = $fscanf(stimulus, "%d %d %d %d %d %h %d %d", s_frame, s_line, s_start, s_begun, s_hands, s_at,
                            s_step, s_count);
              s_dot = 0;
              for (k = 0; k < s_hands; k = k + 1) begin
                got = $fscanf(stimulus, " hand %d %d %d", s_number, s_over, s_under);
                hands_told[k % LATER] = s_over * MEMORY_RATE_ACCESSES * CPU_UNITS / s_under;
              end
              for (k = 0; k < s_count; k = k + 1) begin
                got = $fscanf(stimulus, " byte %d %h", s_number, s_value);
                if (k < s_hands) hand_byte[k % LATER] = s_value[7:0];
                else begin
                  bytes[bytes_in % BYTES_KEPT] = s_value[7:0];
                  bytes_in = bytes_in + 1;
                end
              end
            end
            default: begin
              got = $fgets(rest, stimulus);
              s_there = 0;
            end
          endcase
        end
      end
    end
  endtask

  // what is to be written later, past the bus
  integer memory_in, memory_out, palette_in, palette_out, sprite_in, sprite_out, now;
  integer memory_when [0:LATER-1], palette_when [0:LATER-1], sprite_when [0:LATER-1];
  // bytes over the bus that stand before a record of the palette are done before it, those after it after it
  integer palette_after [0:LATER-1], palette_put, palette_done;
  initial {palette_put, palette_done} = 0;
  always @(posedge clk) begin
    if (chip.port_palette) palette_put = palette_put + 1;
    if (chip.due_palette) palette_done = palette_done + 1;
  end
  reg [31:0] memory_at [0:LATER-1], palette_at [0:LATER-1], memory_what [0:LATER-1], palette_what [0:LATER-1];
  reg [31:0] sprite_at [0:LATER-1], sprite_what [0:LATER-1];
  task do_later;
    input integer until;
    begin
      while (memory_out != memory_in && memory_when[memory_out % LATER] <= until) begin
        memory_byte(memory_at[memory_out % LATER], memory_what[memory_out % LATER]);
        memory_out = memory_out + 1;
      end
      while (palette_out != palette_in && palette_when[palette_out % LATER] <= until
             && palette_after[palette_out % LATER] == palette_done) begin
        chip.palette.words[palette_at[palette_out % LATER]] = palette_what[palette_out % LATER];
        palette_out = palette_out + 1;
      end
      while (sprite_out != sprite_in && sprite_when[sprite_out % LATER] <= until) begin
        sprite_byte(sprite_at[sprite_out % LATER], sprite_what[sprite_out % LATER]);
        sprite_out = sprite_out + 1;
      end
    end
  endtask

  task memory_byte;
    input [31:0] at, what;
    memory.words[at / MEMORY_ACCESS_BYTES][8 * (MEMORY_BIG_END_FIRST
        ? MEMORY_ACCESS_BYTES - 1 - at % MEMORY_ACCESS_BYTES : at % MEMORY_ACCESS_BYTES) +: 8] = what[7:0];
  endtask

  task do_stimulus;
    begin
      case (s_kind)
        "bus": begin
          bus_write = 1;
          bus_address = s_at[15:0];
          bus_data = s_value[7:0];
          clock(0);
          bus_write = 0;
        end
        "read": begin                  // a word of this bench's own: the CPU reads; answers are told as they come
          bus_read = 1;
          bus_address = s_at[15:0];
          clock(0);
          bus_read = 0;
        end
        "palette":
          if (s_line < 0) chip.palette.words[s_at] = s_value;
          else begin
            palette_when[palette_in % LATER] = now + 2 * TICKS + 4;
            palette_after[palette_in % LATER] = palette_put;
            palette_at[palette_in % LATER] = s_at;
            palette_what[palette_in % LATER] = s_value;
            palette_in = palette_in + 1;
          end
        "memory":
          if (s_line < 0) memory_byte(s_at, s_value);
          else begin
            memory_when[memory_in % LATER] = now + TICKS;
            memory_at[memory_in % LATER] = s_at;
            memory_what[memory_in % LATER] = s_value;
            memory_in = memory_in + 1;
          end
        "sprite":
          if (s_line < 0) sprite_byte(s_at, s_value);
          else begin
            sprite_when[sprite_in % LATER] = now + BLANK_DOTS * MEMORY_RATE_ACCESSES;
            sprite_at[sprite_in % LATER] = s_at;
            sprite_what[sprite_in % LATER] = s_value;
            sprite_in = sprite_in + 1;
          end
        "field": set_field(s_number, s_value);
        "register": set_register(s_number, s_value);
        "transfer": begin
          transfer_begins = 1;
          transfer_address = s_at[23:0];
          transfer_step = s_step;
          transfer_count = s_count;
          clock(0);
          transfer_begins = 0;
        end
        "waiting": wait_transfer;
        "status": begin
          chip.status.flags = s_at[7:0];
          chip.status.groups = s_value[7:0];
        end
        default: ;
      endcase
      next_stimulus;
    end
  endtask
  // a transfer from before the first frame: bytes of which it is fixed when they are at hand are
  // there already, the others wait as those of any transfer
  integer hands_told [0:LATER-1];
  reg [7:0] hand_byte [0:LATER-1];
  task wait_transfer;
    begin
      for (k = 0; k < s_hands; k = k + 1) begin
        if (chip.memory_side.cpu_queue.held == chip.memory_side.cpu_queue.HELD) begin
          $display("more bytes are at hand than the design holds");
          $finish;
        end
        chip.memory_side.cpu_queue.put_hand(
            chip.write_now + hands_told[k], s_at, hand_byte[k]);
        s_at = (s_at + s_step) % MEMORY_SIZE;
      end
      if (s_count > s_hands) begin
        transfer_begins = 1;
        transfer_late = s_start * MEMORY_RATE_ACCESSES * CPU_UNITS;
        transfer_address = s_at[23:0];
        transfer_step = s_step;
        transfer_count = s_count - s_hands;
        clock(0);
        transfer_begins = 0;
        transfer_late = 0;
        if (s_hands > 0 || s_begun) chip.memory_side.cpu_queue.go_on(s_at[23:0]);
      end
    end
  endtask
  // past the bus, at one instant
  integer place;
  reg [31:0] gathered;
  // the constants in a net: a task that asks for one of a table would put the table together each time
  wire [32*REGISTERS*REGISTER_BITS-1:0] bit_fields = REGISTERS_BIT_FIELD, bit_places = REGISTERS_BIT_OF;
  wire [32*FIELDS-1:0] tops = FIELDS_TOP, steps = FIELDS_STEP, splits = FIELDS_SPLIT;
  wire [32*REGISTERS-1:0] waits = REGISTERS_WAITS;
  task set_field;
    input integer field;
    input [31:0] raw;
    begin
      for (place = 0; place < REGISTERS * REGISTER_BITS; place = place + 1)
        if (bit_fields[32*place +: 32] == field)
          chip.registers.shadow[place] = raw[bit_places[32*place +: 32]];
      chip.registers.last_set[32*field +: 32] = raw;
      chip.registers.waiting[field] = 0;
    end
  endtask
  // all bytes of a register at once; bits of a split field wait where they would over the bus
  task set_register;
    input integer number;
    input [31:0] word;
    integer field;
    begin
      for (k = 0; k < REGISTERS_BITS[32*number +: 32]; k = k + 1)
        chip.registers.shadow[32*number + k] = word[k];
      for (field = 0; field < FIELDS; field = field + 1) begin
        got = 0;
        gathered = 0;
        for (place = 0; place < REGISTERS * REGISTER_BITS; place = place + 1)
          if (bit_fields[32*place +: 32] == field) begin
            gathered[bit_places[32*place +: 32]] = chip.registers.shadow[place];
            if (place / REGISTER_BITS == number) got = 1;
          end
        if (gathered > tops[32*field +: 32] / steps[32*field +: 32])
          gathered = tops[32*field +: 32] / steps[32*field +: 32];
        if (got && !(waits[32*number] && splits[32*field])) set_field(field, gathered);
      end
    end
  endtask
  // a byte of the table on the chip, where there is one
  reg sprite_puts;
  initial sprite_puts = 0;
  reg [31:0] sprite_put_at, sprite_put_what;
  task sprite_byte;
    input [31:0] at, what;
    begin
      sprite_put_at = at;
      sprite_put_what = what;
      sprite_puts = 1;
      #1 sprite_puts = 0;
    end
  endtask
  generate
    if (SPRITES_COUNT > 0 && !SPRITES_IN_MEMORY) begin : table_on_chip
      reg [7:0] loaded [0:SPRITES_COUNT*SPRITES_RECORD_BYTES-1];
      integer n;
      initial begin
        #2 $sformat(name, "%0s/memory/sprites.hex", folder);
        $readmemh(name, loaded);
        for (n = 0; n < SPRITES_COUNT * SPRITES_RECORD_BYTES; n = n + 1) put(n, loaded[n]);
      end
      always @(posedge sprite_puts) put(sprite_put_at, sprite_put_what[7:0]);
      task put;
        input integer at;
        input [7:0] what;
        chip.with_sprites.sprites.table_on_chip.sprite_table.records[at / SPRITES_RECORD_BYTES][8 * (MEMORY_BIG_END_FIRST
            ? SPRITES_RECORD_BYTES - 1 - at % SPRITES_RECORD_BYTES : at % SPRITES_RECORD_BYTES) +: 8] = what;
      endtask
    end
  endgenerate
