// jsmodbus asks all that it can of a face. Usage: node ask.js PORT. Ends with 1 and says what is not as it should be.
'use strict'

const assert = require('assert')
const net = require('net')
const modbus = require('jsmodbus')

const ACCESS = 16
const WIDTH = 120
const WINDOW = 10000

function connect (port, unit) {
  return new Promise((resolve, reject) => {
    const socket = new net.Socket()
    const client = new modbus.client.TCP(socket, unit)
    socket.once('error', reject)
    socket.connect({ host: '127.0.0.1', port }, () => resolve({ client, socket }))
  })
}

async function exceptionOf (promise) {
  try {
    await promise
  } catch (error) {
    return error.response.body.code
  }
  return 0
}

async function askAll (client) {
  let words = (await client.readInputRegisters(0, 125)).response.body.values
  assert.deepStrictEqual(Array.from(words).slice(0, 2), [0x0102, 0x0304])
  words = (await client.readHoldingRegisters(WINDOW, 125)).response.body.values
  assert.deepStrictEqual(Array.from(words).slice(0, 2), [0x0102, 0x0304])
  assert.strictEqual((await client.readCoils(0, 16)).response.body.valuesAsArray.length, 16)
  assert.strictEqual((await client.readDiscreteInputs(1000, 128)).response.body.valuesAsArray.length, 128)

  await client.writeSingleRegister(ACCESS, 1)
  // 120: this client cuts a longer write off, with quantity and byte count of the whole
  const values = Array.from({ length: 120 }, (_, i) => i + 1)
  await client.writeMultipleRegisters(WIDTH, values)
  words = (await client.readHoldingRegisters(WIDTH, 120)).response.body.values
  assert.deepStrictEqual(Array.from(words), values)
  await client.writeSingleCoil(2, true)
  await client.writeMultipleCoils(4, [true, false, true])
  words = (await client.readHoldingRegisters(1, 1)).response.body.values
  assert.deepStrictEqual(Array.from(words), [0b1010100])

  assert.strictEqual(await exceptionOf(client.readHoldingRegisters(60000, 1)), 2)
  assert.strictEqual(await exceptionOf(client.writeSingleRegister(WINDOW, 1)), 2)
  assert.strictEqual(await exceptionOf(client.writeMultipleRegisters(399, [1, 2])), 2)
  await client.writeSingleRegister(ACCESS, 2)
  assert.strictEqual(await exceptionOf(client.writeSingleRegister(WIDTH, 1)), 1)
}

async function main () {
  const port = Number(process.argv[2])
  const { client, socket } = await connect(port, 1)
  await askAll(client)
  socket.end()
  const other = await connect(port, 77)
  assert.strictEqual(await exceptionOf(other.client.readInputRegisters(0, 1)), 10)
  other.socket.end()
}

main().catch(error => {
  console.error(error)
  process.exit(1)
})
