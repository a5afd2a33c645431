-- Drives a real editor against the language server: a fault is typed and told, mended
-- and gone; a word is explained; a file is formatted. Prints `ok`, or what failed.

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

-- One style.
vim.api.nvim_buf_set_lines(buffer, number, number + 1, false, { "      " .. line:gsub(" at ", "   at   ") })
vim.lsp.buf.formatting_sync(nil, 20000)
if vim.api.nvim_buf_get_lines(buffer, number, number + 1, false)[1]:find("   at", 1, true) then
  fail("the file is not formatted")
end

io.stdout:write("ok\n")
vim.cmd("qall!")
