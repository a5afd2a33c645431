-- Drives a real editor against the language server: a fault is typed and told, mended
-- and gone; a word is explained; what is computed and what could follow is told; a name is
-- changed; a file is formatted. Prints `ok`, or what failed.

local function fail(what)
  io.stdout:write("FAILED: " .. what .. "\n")
  vim.cmd("cquit 1")
end

local function wait(what, test)
  if not vim.wait(60000, test, 20) then
    local told = {}
    for _, found in ipairs(vim.diagnostic.get(0)) do
      table.insert(told, found.message)
    end
    fail(what .. "; the findings are: " .. table.concat(told, " | "))
  end
end

local function told(part)
  for _, found in ipairs(vim.diagnostic.get(0)) do
    if found.message:find(part, 1, true) then
      return found
    end
  end
end

vim.cmd("edit " .. vim.fn.fnameescape(vim.env.FILE))
local buffer = vim.api.nvim_get_current_buf()
local client = vim.lsp.start_client({
  name = "tempwright",
  cmd = { vim.env.PROGRAM, "lsp" },
  root_dir = vim.fn.getcwd(),
})
if not client then
  fail("the server does not start")
end
vim.lsp.buf_attach_client(buffer, client)
wait("the server answers", function()
  local known = vim.lsp.get_client_by_id(client)
  return known ~= nil and known.initialized
end)

-- What takes a search comes by itself, once nobody types.
wait("the contradiction is told", function()
  return told("can hold together") ~= nil
end)

-- A fault behind a degree sign: the column must be that of the byte.
local number = vim.fn.search("hold core at 36.0", "n") - 1
local line = vim.api.nvim_buf_get_lines(buffer, number, number + 1, false)[1]
local faulty = line:gsub("within 0.5 °C", "within 0.5 °C/h")
vim.api.nvim_buf_set_lines(buffer, number, number + 1, false, { faulty })
wait("the fault is told", function()
  return told("0.5 °C/h") ~= nil
end)
local found = told("0.5 °C/h")
local column = faulty:find("0.5 °C/h", 1, true) - 1
if found.lnum ~= number or found.col ~= column then
  fail(("the fault stands at %d:%d and is told at %d:%d"):format(number, column, found.lnum, found.col))
end
vim.api.nvim_buf_set_lines(buffer, number, number + 1, false, { line })
wait("the fault is gone", function()
  return told("0.5 °C/h") == nil
end)

-- What a time comes to on the sheet.
local rule = vim.fn.search("when water below", "n") - 1
local text = vim.api.nvim_buf_get_lines(buffer, rule, rule + 1, false)[1]
local answers = vim.lsp.buf_request_sync(buffer, "textDocument/hover", {
  textDocument = vim.lsp.util.make_text_document_params(buffer),
  position = { line = rule, character = vim.str_utfindex(text, text:find("for 1 h", 1, true)) },
}, 20000)
local said = vim.inspect(answers)
if not said:find("two hourly boxes in a row", 1, true) then
  fail("the hover says " .. said)
end

-- What is computed, behind what was written.
local hints = vim.inspect(vim.lsp.buf_request_sync(buffer, "textDocument/inlayHint", {
  textDocument = vim.lsp.util.make_text_document_params(buffer),
  range = { start = { line = 0, character = 0 }, ["end"] = { line = 1000, character = 0 } },
}, 20000))
for _, wanted in ipairs({ "= two hourly boxes in a row", "starts 0:00, ends 24:00" }) do
  if not hints:find(wanted, 1, true) then
    fail("the hints are " .. hints)
  end
end

-- What can follow, while the line is not finished.
vim.api.nvim_buf_set_lines(buffer, number + 1, number + 1, false, { "    by " })
local offered = vim.inspect(vim.lsp.buf_request_sync(buffer, "textDocument/completion", {
  textDocument = vim.lsp.util.make_text_document_params(buffer),
  position = { line = number + 1, character = 7 },
}, 20000))
if not offered:find("ice-packs", 1, true) or offered:find('"core"', 1, true) then
  fail("what is offered is " .. offered)
end
vim.api.nvim_buf_set_lines(buffer, number + 1, number + 2, false, {})

-- A name, in all its places and in no text.
local before = table.concat(vim.api.nvim_buf_get_lines(buffer, 0, -1, false), "\n")
vim.api.nvim_win_set_cursor(0, { rule + 1, text:find("water", 1, true) - 1 })
vim.lsp.buf.rename("exchanger")
wait("the name is changed", function()
  local now = vim.api.nvim_buf_get_lines(buffer, rule, rule + 1, false)[1]
  return now:find("when exchanger below", 1, true) ~= nil
end)
local after = table.concat(vim.api.nvim_buf_get_lines(buffer, 0, -1, false), "\n")
local text_changed = not after:find('"Exchanger water"', 1, true)
if after:gsub("exchanger", "water") ~= before or after:find("when water", 1, true) or text_changed then
  fail("the name is changed wrongly: " .. after)
end

-- One style.
vim.api.nvim_buf_set_lines(buffer, number, number + 1, false, { "      " .. line:gsub(" at ", "   at   ") })
vim.lsp.buf.formatting_sync(nil, 20000)
if vim.api.nvim_buf_get_lines(buffer, number, number + 1, false)[1]:find("   at", 1, true) then
  fail("the file is not formatted")
end

io.stdout:write("ok\n")
vim.cmd("qall!")
